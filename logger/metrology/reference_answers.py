"""What was answered on what a reading is taken against: reference, the rod's place, laptop and link.

In: a set-up. Out: its answers alone, as a correction of a reading keeps them from and to.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields, replace

from logger.metrology.rounding import plain
from logger.metrology.setup import REFERENCES, Reference, Setup
from logger.translation import marked, tr, tr_kept


@dataclass(frozen=True, slots=True)
class ReferenceAnswers:
    """The answers; each as in `Setup`, None or empty where nobody has given it.

    Args:
        reference: what the meter calls zero.
        soil, moisture: of the rod's place.
        panel_distance_m, wire_length_m: from the rod to the main panel, and of the reference wire.
        on_battery: the laptop runs on its battery.
        link_isolated: nothing conducts between meter and laptop.
    """

    reference: Reference | None = None
    soil: str = ""
    moisture: str = ""
    panel_distance_m: float | None = None
    wire_length_m: float | None = None
    on_battery: bool | None = None
    link_isolated: bool | None = None

    @classmethod
    def of(cls, setup: Setup) -> ReferenceAnswers:
        """The answers of a set-up."""
        return cls(**{f.name: getattr(setup, f.name) for f in fields(cls)})

    def against(self, reference: Reference, rod: ReferenceAnswers) -> ReferenceAnswers:
        """The same against another reference: soil and wire are those of that rod, and none of the building's earth.

        Args:
            reference: what the meter called zero.
            rod: where soil and wire are taken from, if they are those of a rod.
        """
        of = rod if reference == "earth rod" == rod.reference else ReferenceAnswers()
        return replace(self, reference=reference, **{name: getattr(of, name) for name in OF_THE_ROD})

    def changes_to(self, other: ReferenceAnswers) -> dict[str, object]:
        """What differs in other answers, as they have it, by the name of the field."""
        names = (f.name for f in fields(self))
        return {name: getattr(other, name) for name in names if getattr(other, name) != getattr(self, name)}

    @property
    def words(self) -> str:
        """All of them, for a person: 'earth rod (loam or clay, wet), laptop on battery, link isolated'."""
        return self.words_of(f.name for f in fields(self))

    def words_of(self, names: Iterable[str]) -> str:
        """Those of some fields, for a person.

        Args:
            names: of the fields.
        """
        wanted = frozenset(names)
        out = []
        if wanted & {"reference", *OF_THE_ROD}:
            rod = ", ".join(self._rod_words())
            kind = tr("reference not stated") if self.reference is None else tr(REFERENCES[self.reference])
            out.append(tr("{reference} ({where})").format(reference=kind, where=rod) if rod else kind)
        if "on_battery" in wanted:
            out.append(tr(_POWER[self.on_battery]))
        if "link_isolated" in wanted:
            out.append(tr(_LINK[self.link_isolated]))
        return ", ".join(out)

    def _rod_words(self) -> list[str]:
        """What is stated of the rod's place and wire, each in words."""
        texts = [tr_kept(text) for text in (self.soil, self.moisture) if text]
        if self.panel_distance_m is not None:
            texts.append(tr("{metres} m from the main panel").format(metres=plain(self.panel_distance_m)))
        if self.wire_length_m is not None:
            texts.append(tr("wire of {metres} m").format(metres=plain(self.wire_length_m)))
        return texts

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> ReferenceAnswers:
        """From what `to_json` gave.

        Raises:
            ValueError: it is none, or has a value that no answer has.
        """
        data = json.loads(text)
        if not isinstance(data, dict):
            raise ValueError("answers are an object")
        found = cls(**{f.name: data[f.name] for f in fields(cls) if f.name in data})
        numbers = found.panel_distance_m, found.wire_length_m
        if not (
            found.reference in (None, *REFERENCES)
            and all(isinstance(one, str) for one in (found.soil, found.moisture))
            and all(one is None or type(one) in (int, float) for one in numbers)
            and all(one is None or isinstance(one, bool) for one in (found.on_battery, found.link_isolated))
        ):
            raise ValueError("an answer has a value that it cannot have")
        return found


OF_THE_ROD = ("soil", "moisture", "panel_distance_m", "wire_length_m")
"""The answers that are of a rod."""

_POWER = {
    True: marked("laptop on battery"),
    False: marked("laptop on its charger"),
    None: marked("not stated how the laptop is powered"),
}
_LINK = {
    True: marked("link isolated"),
    False: marked("link not isolated"),
    None: marked("not stated whether the link is isolated"),
}
