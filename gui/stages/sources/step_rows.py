"""What the page Steps shows of steps, circuits and cords, as rows and sentences. No widget."""

from __future__ import annotations

from dataclasses import dataclass, replace

from gui.model.step_controller import StepController
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import change_text, clock_text, counted, step_text
from gui.stages.sources.step_selection import Item, StepSelection
from gui.stages.verdict_badges import confirmation_badge
from gui.translation import tr
from gui.widgets.badge import OPEN
from gui.widgets.row_model import ListHeading, ListRow
from logger import cautions
from logger.clock import NS_PER_S
from logger.sweep.confirmation import Effect, confirmation_hint
from logger.sweep.labelled_steps import KnownStep
from logger.sweep.step_causes import StepCause
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.simulated_run import SIMULATED

MAX_UNLABELLED = 4
"""So many steps without a label are listed; the older ones move up as these are dealt with."""

MAX_LABELLED = 40
"""So many labelled steps are listed, the newest first, and so many that need no label."""

CAUSE_TEXTS = {
    StepCause.SPOT: "You went to another spot",
    StepCause.SWEEP: "Something else was on in the next reading",
    StepCause.CHECK: "Part of a check",
}
"""Why a step needs no name."""

NO_STEP = "No step waits for a name. Lie still while somebody else switches."


CAUTION = (
    f"{cautions.LIVE_CONDUCTOR} {cautions.PANEL} {cautions.ESSENTIAL_CIRCUITS} "
    f"{cautions.SENSITIVE_PEOPLE_AND_CORDS}"
)


def on_off(turned_on: bool) -> str:
    """The direction of a step in a word."""
    return "on" if turned_on else "off"


@dataclass(frozen=True, slots=True)
class StepRows:
    """Words the rows of the list.

    Args:
        snapshot: what is known of the visit log.
        steps: the steps of the visit.
        selection: what is chosen, and what a step probably was.
    """

    snapshot: VisitSnapshot
    steps: StepController
    selection: StepSelection

    def rows(self, spot: Spot | None) -> tuple[list[ListRow | ListHeading], list[Item]]:
        """List the steps that wait, what circuits and cords do, the labelled and the explained steps, the caution.

        Args:
            spot: the spot whose effects are shown.

        Returns:
            The rows with their headings, and what each row stands for; the last row, the caution, stands for nothing.
        """
        waiting, effects = self.steps.unlabelled(), self.steps.effects()
        with_effect = {source.id for source, _ in effects}
        rest = [source for source in self.snapshot.sources if source.id not in with_effect]
        labelled = self.steps.labelled()[:MAX_LABELLED]
        rows: list[ListRow | ListHeading] = []
        items: list[Item] = []
        if len(waiting) > 1 or any(map(self.selection.is_passed_over, waiting)):
            older = f", {len(waiting) - MAX_UNLABELLED} older" if len(waiting) > MAX_UNLABELLED else ""
            rows.append(ListHeading(f"{counted(len(waiting), 'step')} without a name{older}"))
            items += waiting[:MAX_UNLABELLED]
            rows += [self._unlabelled_row(known) for known in waiting[:MAX_UNLABELLED]]
        if effects or rest:
            rows.append(ListHeading(f"At “{spot.name}”" if spot else "Circuits and cords"))
            items += [source for source, _ in effects] + rest
            in_hand = self.selection.item or self.steps.last_used_source()
            for source, effect in effects:
                row = self._source_row(source, effect)
                hint = (
                    confirmation_hint(effect)
                    if isinstance(in_hand, Source) and in_hand.id == source.id
                    else ""
                )
                rows.append(replace(row, note=hint))
            rows += [self._source_row(source, None) for source in rest]
        if labelled:
            rows.append(ListHeading("Named steps"))
            items += labelled
            rows += [self._labelled_row(known) for known in labelled]
        explained = self.steps.explained()[:MAX_LABELLED]
        if explained:
            rows.append(ListHeading(tr("No name needed")))
            items += explained
            rows += [self._explained_row(known) for known in explained]
        rows.append(ListHeading(""))
        rows.append(ListRow(tr("Caution"), note=CAUTION, quiet=True))
        return rows, items

    def detail(self) -> str:
        """Describe which steps the detector has withdrawn or may still withdraw."""
        lines = [self.steps.withdrawal_text(name) for name in self.steps.withdrawn()[-1:]]
        unsure = self.steps.newest_open()
        if unsure is not None:
            what = self.steps.label_of(unsure) or step_text(unsure.change_volts)
            seconds = self.steps.final_in_s(unsure)
            longer = f"{seconds:.0f} s more" if seconds >= 1 else "a moment more"
            lines = [f"{what} is not sure yet: leave it as it is, {longer}."]
        return "\n".join(lines)

    def clock(self, known: KnownStep) -> str:
        """When a step was: 'at 10:36:48', or 'between 10:36:48 and 10:37:10' for one that nobody saw."""
        run_utc_ns, zone = self.snapshot.run_started_utc_ns(known.found.run_id), self.snapshot.zone
        if known.found.unseen_s is None:
            return f"at {clock_text(run_utc_ns + known.found.t_ns, zone)}"
        begun, ended = (
            clock_text(run_utc_ns + round(edge_s * NS_PER_S), zone) for edge_s in known.found.unseen_s
        )
        return f"between {begun} and {ended}"

    def guess_text(self, known: KnownStep, otherwise: str) -> str:
        """What a step probably was, as a question; `otherwise` where there is no guess."""
        guess = self.selection.guess(known)
        return f"{guess[0].name} {on_off(guess[1])}?" if guess else otherwise

    def _unlabelled_row(self, known: KnownStep) -> ListRow:
        guess, when = self.guess_text(known, "which?"), self.clock_with_mark(known)
        return ListRow(step_text(known.change_volts), "", guess, when, badge=OPEN)

    def _explained_row(self, known: KnownStep) -> ListRow:
        assert known.cause is not None
        return ListRow(
            step_text(known.change_volts),
            "",
            tr(CAUSE_TEXTS[known.cause]),
            self.clock_with_mark(known),
            quiet=True,
        )

    def _labelled_row(self, known: KnownStep) -> ListRow:
        when = self.clock_with_mark(known)
        row = ListRow(self.steps.label_of(known), step_text(known.change_volts), when, quiet=known.ignored)
        if self.selection.item is not known or known.ignored:
            return row
        return replace(
            row,
            note=tr(
                "Not so? “Which was it...” gives it another name, “Ignore” takes its label away, "
                "“On instead of off” in the menu turns it round."
            ),
        )

    def clock_with_mark(self, known: KnownStep) -> str:
        """Time of day of a step, or between which it lies, and whether it is simulated."""
        when = self.clock(known).removeprefix("at ")
        return f"{when}, {SIMULATED}" if known.simulated else when

    def _source_row(self, source: Source, effect: Effect | None) -> ListRow:
        parts = [self._kind_of(source)]
        if source.stays:
            parts.append(f"must stay on: {source.stays}")
        small = "; ".join(parts)
        if effect is None:
            return ListRow(source.name, "", small, "no step yet", badge=OPEN)
        value = change_text(effect.volts, effect.u_volts)
        verdict = f"{effect.verdict} (on {effect.ons}, off {effect.offs})"
        verdict += f", {SIMULATED}" if effect.simulated else ""
        return ListRow(source.name, value, small, verdict, badge=confirmation_badge(effect.verdict))

    def _kind_of(self, source: Source) -> str:
        """What kind of thing a source is, and which circuit a cord is on."""
        if source.kind == "circuit":
            return "two-pole circuit" if source.two_pole else "circuit"
        circuit = self.snapshot.every_source.get(source.circuit_id or 0)
        return f"cord on {circuit.name}" if circuit else "cord"
