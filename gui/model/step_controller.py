"""What the user does with the steps of the trace: label, ignore, remove a label; and which steps are news.

Steps and labels come from the log (`logger.sweep.labelled_steps`); this module only keeps what was reported already.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from gui.model.step_places import StepPlaces
from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, step_label_text
from logger.clock import NS_PER_S
from logger.night.recorded_nights import NightSpan
from logger.sweep.confirmation import Effect
from logger.sweep.labelled_steps import MATCH_S, KnownStep, source_effects
from logger.sweep.read_unproved import switched_unproved
from logger.sweep.step_causes import StepCause
from logger.translation import tr, tr_n
from logger.visit.records.home_records import Meaning, Source, Spot, StepLabel
from logger.visit.results.posture_repeats import repeatability_on_site


@dataclass(frozen=True, slots=True)
class StepNews:
    """What the detector has found since the news were last read."""

    steps: tuple[KnownStep, ...]
    withdrawn: tuple[StepLabel, ...]
    """Labels whose steps are no longer there."""
    final: tuple[KnownStep, ...]
    """Labelled steps that the detector will not change any more."""


SIMILAR_SHARE = 0.3
"""By so much of the one step two steps of the same lamp may differ: the body does not lie as before."""


def _undoes(step: KnownStep, other: KnownStep) -> bool:
    """Whether a step is as large as another one and goes the other way."""
    apart = abs(step.change_volts + other.change_volts)
    unsure = step.found.step.u_volts + other.found.step.u_volts
    like = apart <= max(SIMILAR_SHARE * abs(other.change_volts), unsure)
    return like and step.change_volts * other.change_volts < 0


# long: what may be said of a step rests on its label, its motion and the steps around it.
class StepController:
    """The steps of a visit.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self.controller = controller
        self.places = StepPlaces(controller)
        self._reported_steps: set[tuple[int, int]] = set()
        """Run and time of every step that was in the news."""
        self._reported_withdrawn: set[int] = set()
        self._reported_final: set[int] = set()
        """Ids of labels that were in the news as withdrawn, or as final."""
        self.news()  # what is in the log when the visit is opened is not news

    def known(self) -> list[KnownStep]:
        """All steps of the visit with their labels, oldest first."""
        return self.controller.snapshot.known_steps()

    def unlabelled(self) -> list[KnownStep]:
        """Steps that wait for a label, newest first."""
        return [known for known in reversed(self.known()) if known.waits]

    def explained(self) -> list[KnownStep]:
        """Steps without a label of which the readings or checks beside them show what they were, newest first."""
        return [
            known
            for known in reversed(self.known())
            if known.label is None and not known.waits and known.cause is not StepCause.NIGHT
        ]

    def of_nights(self) -> list[tuple[NightSpan, list[KnownStep]]]:
        """Steps without a label that came while somebody slept, newest first, night by night."""
        found: dict[tuple[int, ...], tuple[NightSpan, list[KnownStep]]] = {}
        for known in reversed(self.known()):
            night = self.controller.snapshot.night_of(known.found) if known.cause is StepCause.NIGHT else None
            if night is not None:
                found.setdefault(night.run_ids, (night, []))[1].append(known)
        return [*found.values()]

    def put_aside(self) -> list[KnownStep]:
        """Those of them that only a statement of what is on explains, newest first: no reading shows that it was so."""
        return [known for known in self.explained() if known.is_put_aside]

    def labelled(self) -> list[KnownStep]:
        """Steps with a label, and ignored ones, newest first."""
        return [known for known in reversed(self.known()) if known.label is not None]

    def sources_by_use(self) -> list[Source]:
        """Circuits and cords, the last used first; those never used in the order of the list."""
        sources = {source.id: source for source in self.controller.snapshot.sources}
        used = (n.source_id for n in reversed(self.controller.snapshot.step_labels) if n.source_id in sources)
        return [sources[i] for i in dict.fromkeys((*used, *sources)) if i is not None]

    def last_used_source(self) -> Source | None:
        """The circuit or cord of the newest label."""
        used = any(name.source_id is not None for name in self.controller.snapshot.step_labels)
        return next(iter(self.sources_by_use()), None) if used else None

    def source_names_matching(self, typed: str) -> list[str]:
        """Names of circuits and cords that contain what is typed, or have it as their number, the best first.

        The one of that number comes first, then names that begin with it, those with a word that does, and the others;
        among equals the last used first.
        """
        wanted, details = typed.casefold(), self.controller.snapshot.source_details
        sources = self.sources_by_use()
        numbered = {
            source.name
            for source in sources
            if wanted and source.id in details and details[source.id].number.casefold() == wanted
        }
        names = [s.name for s in sources if wanted in s.name.casefold() or s.name in numbered]

        def rank(name: str) -> int:
            folded = name.casefold()
            if name in numbered:
                return -1
            return 0 if folded.startswith(wanted) else 1 if f" {wanted}" in folded else 2

        return sorted(names, key=rank)

    def source_named(self, name: str) -> Source | None:
        """The circuit or cord of that name."""
        wanted = name.casefold()
        return next((s for s in self.controller.snapshot.sources if s.name.casefold() == wanted), None)

    def label_of(self, known: KnownStep) -> str:
        """The label of a step: 'lamp off', 'ignored'; empty without one."""
        return step_label_text(known, self.controller.snapshot.shown_sources)

    def likely_on(self, source: Source, step: KnownStep) -> bool:
        """Whether a step was more likely on than off: a rise, unless the source lowers the level by coming on."""
        on_raises = True
        for known in self.known():
            if (known.found.run_id, known.found.t_ns) == (step.found.run_id, step.found.t_ns):
                break
            if known.label is not None and known.label.source_id == source.id:
                on_raises = (known.change_volts > 0) is (known.label.meaning == "on")
        return (step.change_volts > 0) is on_raises

    def likely_source(self, step: KnownStep) -> tuple[Source, bool] | None:
        """The last used circuit or cord of which this step undoes the one before it, by size and sign.

        Where it has none before, the one after it is taken. A drop is never proposed as on, nor a rise as off: where a
        source cancels another one, that is the user's to say. Nothing is proposed where something else explains the
        step, or while circuits were being switched: one of them may well be as large.

        Returns:
            The source, and whether it was turned on; None where no source fits.
        """
        if step.cause is not None or step.of_circuits:
            return None
        key = (step.found.run_id, step.found.t_ns)
        beside: dict[int, KnownStep] = {}
        for known in self.known():
            if known.label is None or known.label.source_id is None:
                continue
            if (known.found.run_id, known.found.t_ns) < key:
                beside[known.label.source_id] = known
            else:
                beside.setdefault(known.label.source_id, known)
        for source in self.sources_by_use():
            other = beside.get(source.id)
            if other is None or other.label is None or not _undoes(step, other):
                continue
            turned_on = other.label.meaning == "off"
            if turned_on is (step.change_volts > 0):
                return source, turned_on
        return None

    def label(self, step: KnownStep, source: Source, turned_on: bool, at: Spot | None = None) -> None:
        """Label a step.

        Args:
            step: what is labelled.
            source: what was switched.
            turned_on: on, or off.
            at: where the body was by the user's word; None takes what the trace and the choice of spots say.
        """
        word: Meaning = "on" if turned_on else "off"
        text = tr("{change}: {source} on") if turned_on else tr("{change}: {source} off")
        message = text.format(change=self.controller.snapshot.step_size(step), source=source.name)
        self._put_label(message, [step], lambda s: (word, source.id), at)

    def file_at(self, step: KnownStep, spot: Spot) -> None:
        """File the label of a step at another spot: where the body was.

        Args:
            step: it has a label of a circuit or cord.
            spot: where it belongs.
        """
        controller, before = self.controller, step.label
        assert before is not None

        def put(spot_id: int | None) -> None:
            controller.log.step_labels.add(
                step.found.run_id, step.found.step, spot_id, before.meaning, before.source_id
            )

        def do() -> str:
            put(spot.id)
            change = self.controller.snapshot.step_size(step)
            controller.history.remember_edit(
                UndoableEdit(
                    tr("spot of {change}").format(change=change),
                    lambda: put(before.spot_id),
                    lambda: put(spot.id),
                    tr("{change} is filed where it was before").format(change=change),
                )
            )
            return tr("{change} is filed at “{spot}”").format(change=change, spot=spot.name)

        controller.do(do)

    def went(self, step: KnownStep, spot: Spot) -> None:
        """Note that a step was the user's own move to a spot: it needs no label, and the next reading is for there."""
        self.controller.route.chosen_id = spot.id
        text = tr("{change}: you went to “{spot}”. It needs no label.")
        size = self.controller.snapshot.step_size(step)
        self._put_label(text.format(change=size, spot=spot.name), [step], lambda s: ("ignored", None))

    def ignore(self, *steps: KnownStep) -> None:
        """Label steps as ignored."""
        count = len(steps)
        text = (
            tr("{change} is ignored").format(change=self.controller.snapshot.step_size(steps[0]))
            if count == 1
            else tr_n("{n} step is ignored", "{n} steps are ignored", count).format(n=count)
        )
        self._put_label(text, steps, lambda s: ("ignored", None))

    def remove_label(self) -> bool:
        """Remove the newest label, also one of another window; False when there is none."""
        named = [known for known in self.known() if known.label is not None]
        if not named:
            return False
        newest = max(named, key=lambda known: known.label.id if known.label else 0)
        self._put_label(
            tr("{change} waits for a name again").format(change=self.controller.snapshot.step_size(newest)),
            [newest],
            lambda s: ("unnamed", None),
        )
        return True

    def _put_label(
        self,
        message: str,
        steps: Sequence[KnownStep],
        label: Callable[[KnownStep], tuple[Meaning, int | None]],
        at: Spot | None = None,
    ) -> None:
        """Put a label on steps, with the way back to the labels that they had."""
        controller = self.controller
        places = {id(step): self.places.of(step) if at is None else at.id for step in steps}

        elsewhere = "" if label(steps[0])[1] is None else self.places.elsewhere_text(set(places.values()))

        def undo() -> None:
            for step in steps:
                before = step.label
                controller.log.step_labels.add(
                    step.found.run_id,
                    step.found.step,
                    before.spot_id if before else None,
                    before.meaning if before else "unnamed",
                    before.source_id if before else None,
                )

        def put() -> None:
            for step in steps:
                meaning, source_id = label(step)
                where = places[id(step)]
                controller.log.step_labels.add(step.found.run_id, step.found.step, where, meaning, source_id)

        def do() -> str:
            put()
            name, undone = self._undo_words(steps)
            controller.history.remember_edit(UndoableEdit(name, undo, put, undone))
            return message + elsewhere

        controller.do(do)

    def _undo_words(self, steps: Sequence[KnownStep]) -> tuple[str, str]:
        """What the edit of the labels of steps is called, and what is said once it is undone."""
        count = len(steps)
        if count > 1:
            name = tr_n("label of {n} step", "label of {n} steps", count)
            undone = tr_n(
                "{n} step: each waits for a name again", "{n} steps: each waits for a name again", count
            )
            return name.format(n=count), undone.format(n=count)
        change, before = self.controller.snapshot.step_size(steps[0]), self.label_of(steps[0])
        undone = tr("{change} is “{label}” again") if before else tr("{change} waits for a name again")
        return tr("label of {change}").format(change=change), undone.format(change=change, label=before)

    def newest_open(self) -> KnownStep | None:
        """The newest step for which everything has to stay as it is; None when all are final."""
        return next((known for known in reversed(self.known()) if known.is_awaited), None)

    def final_in_s(self, known: KnownStep) -> float:
        """How many seconds everything has to stay as it is, at most, until a step is final."""
        live = self.controller.snapshot.live
        if live is None:
            return 0.0
        now_s = (live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S
        return max(known.found.final_at_s - now_s, 0.0)

    def effects(self) -> list[tuple[Source, Effect]]:
        """What each source does at the chosen spot, the largest first."""
        spot_id = self.controller.route.chosen_id
        by_id = {source.id: source for source in self.controller.snapshot.sources}
        repeatability = repeatability_on_site(self.controller.snapshot.readings)
        found = [
            (by_id[source_id], effect)
            for (where, source_id), effect in source_effects(self.known(), repeatability).items()
            if where == spot_id and source_id in by_id
        ]
        return sorted(found, key=lambda item: -abs(item[1].volts))

    def not_counted(self) -> str:
        """Whose steps at the chosen spot do not count, as the function check had failed, in sentences."""
        snapshot = self.controller.snapshot
        names = {spot.id: spot.name for spot in snapshot.spots}
        here = self.controller.route.chosen_id or 0
        return " ".join(switched_unproved(self.known(), names, snapshot.every_source, here))

    def withdrawn(self) -> list[StepLabel]:
        """Labels whose steps the detector has withdrawn."""
        return [
            known.label for known in self.known() if known.found.kept_by_label and known.label is not None
        ]

    def withdrawal_text(self, name: StepLabel) -> str:
        """A message that names the step which is no longer there."""
        source = self.controller.snapshot.every_source.get(name.source_id or 0)
        started_utc_ns = self.controller.snapshot.run_started_utc_ns(name.run_id)
        at = clock_text(started_utc_ns + name.t_ns, self.controller.snapshot.zone, seconds=False)
        if source is None:
            return tr(
                "The detector no longer counts a step at {time} as a step; your label is kept. Ignore it where it "
                "was none."
            ).format(time=at)
        return tr(
            "The detector no longer counts the step of {source} at {time} as a step; your label is kept. Ignore it "
            "where it was none."
        ).format(source=source.name, time=at)

    def news(self) -> StepNews:
        """What is new since the last call."""
        new = []
        for known in self.known():
            run_id, t_ns = key = (known.found.run_id, known.found.t_ns)
            if key in self._reported_steps:
                continue
            # A step that was only placed anew is not news.
            if all(run != run_id or abs(t - t_ns) > MATCH_S * NS_PER_S for run, t in self._reported_steps):
                new.append(known)
            self._reported_steps.add(key)
        back = [name for name in self.withdrawn() if name.id not in self._reported_withdrawn]
        self._reported_withdrawn |= {name.id for name in back}
        sure = [
            known
            for known in self.known()
            if known.found.final and known.label is not None and known.label.id not in self._reported_final
        ]
        self._reported_final |= {known.label.id for known in sure if known.label is not None}
        return StepNews(tuple(new), tuple(back), tuple(known for known in sure if not known.ignored))
