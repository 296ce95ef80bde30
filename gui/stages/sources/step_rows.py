"""What the page Steps shows of steps, circuits and cords, as rows and sentences. No widget."""

from __future__ import annotations

from dataclasses import dataclass, replace

from gui.model.source_list_controller import stays_text
from gui.model.step_controller import StepController
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import change_text, clock_text, counted, day_and_time
from gui.stages.sources.step_selection import Item, NightSteps, StepSelection
from gui.stages.verdict_badges import confirmation_badge
from gui.widgets.badge import OPEN
from gui.widgets.row_model import ListHeading, ListRow
from logger import cautions
from logger.clock import NS_PER_S
from logger.metrology.rounding import fixed, grouped
from logger.name_list import in_turn, listed
from logger.night.recorded_nights import NightSpan
from logger.sweep.confirmation import VERDICT_WORDS, Effect, confirmation_hint
from logger.sweep.labelled_steps import KnownStep
from logger.sweep.step_causes import StepCause
from logger.translation import marked, tr, tr_all, tr_n
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_WORDS

MAX_UNLABELLED = 4
"""So many steps without a label are listed; the older ones move up as these are dealt with."""

MAX_LABELLED = 40
"""So many labelled steps are listed, the newest first, and so many that need no label."""

CAUSE_TEXTS = {
    StepCause.SPOT: marked("You went to another spot"),
    StepCause.SWEEP: marked("Something else was on in the next reading"),
    StepCause.MOVED_OR_SWEEP: marked("You moved, or something else was on in the next reading"),
    StepCause.CHECK: marked("Part of a check"),
    StepCause.STATED: marked("What is on was entered at about that time"),
    StepCause.NIGHT: marked("It came while somebody slept"),
}
"""Why a step needs no name."""

NO_STEP = marked("No step waits for a name. Lie still while somebody else switches.")


CAUTION = (
    cautions.LIVE_CONDUCTOR, cautions.PANEL, cautions.ESSENTIAL_CIRCUITS, cautions.SENSITIVE_PEOPLE_AND_CORDS,
)  # fmt: skip


def switched_text(source: Source, turned_on: bool) -> str:
    """What a step was: 'Bedside lamp on'."""
    text = tr("{source} on") if turned_on else tr("{source} off")
    return text.format(source=source.name)


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
            text = (
                tr("{steps} without a name, {n} older")
                if len(waiting) > MAX_UNLABELLED
                else tr("{steps} without a name")
            )
            steps = counted(len(waiting), "step")
            rows.append(ListHeading(text.format(steps=steps, n=len(waiting) - MAX_UNLABELLED)))
            items += waiting[:MAX_UNLABELLED]
            rows += [self._unlabelled_row(known) for known in waiting[:MAX_UNLABELLED]]
        if effects or rest:
            heading = tr("At “{spot}”").format(spot=spot.name) if spot else tr("Circuits and cords")
            rows.append(ListHeading(heading))
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
            rows.append(ListHeading(tr("Named steps")))
            items += labelled
            rows += [self._labelled_row(known) for known in labelled]
        for title, explained in self._explained():
            rows.append(ListHeading(title))
            items += explained[:MAX_LABELLED]
            rows += [self._explained_row(known) for known in explained[:MAX_LABELLED]]
        for night, of_night in self.steps.of_nights():
            folded = NightSteps(night.run_ids)
            is_open = folded in self.selection.open_nights
            rows += [ListHeading(""), self._night_row(night, len(of_night), folded, is_open)]
            items.append(folded)
            if is_open:
                items += of_night[:MAX_LABELLED]
                rows += [self._explained_row(known) for known in of_night[:MAX_LABELLED]]
        rows.append(ListHeading(""))
        rows.append(ListRow(tr("Caution"), note=tr_all(CAUTION), quiet=True))
        return rows, items

    def _explained(self) -> list[tuple[str, list[KnownStep]]]:
        """The steps that need no name, those that only a statement explains first, each kind with its heading."""
        put_aside = self.steps.put_aside()
        others = [known for known in self.steps.explained() if not known.is_put_aside]
        other = tr("No name needed for another reason: {n}") if put_aside else tr("No name needed: {n}")
        both = ((tr("What is on was entered then: {n}"), put_aside), (other, others))
        return [(title.format(n=grouped(len(steps))), steps) for title, steps in both if steps]

    def _night_row(self, night: NightSpan, count: int, folded: NightSteps, is_open: bool) -> ListRow:
        """All steps of a night in one row: the stage Night sums them up, and nobody was awake to name them."""
        text = tr_n(
            "{n} change in the night from {began} on", "{n} changes in the night from {began} on", count
        )
        hint = tr("Enter folds them again.") if is_open else tr("Enter lists them, to name one.")
        return ListRow(
            text.format(n=grouped(count), began=day_and_time(night.start_utc_ns, self.snapshot.zone)),
            "",
            tr("see the stage Night"),
            note=hint if self.selection.item == folded else "",
            quiet=True,
        )

    def put_aside_text(self) -> str:
        """How many steps need no name because what is on was entered then; empty without any."""
        count = len(self.steps.put_aside())
        text = tr_n(
            "{n} change has no name because you entered what is on at that moment. If it was something else, choose it "
            "below and name it.",
            "{n} changes have no name because you entered what is on at that moment. If one was something else, choose "
            "it below and name it.",
            count,
        )
        return text.format(n=count) if count else ""

    def detail(self, card: KnownStep | None) -> str:
        """Describe which step the detector has withdrawn or may still withdraw.

        Args:
            card: the step that stands above, about which it is alone then; None for none.
        """
        lines = [self.steps.withdrawal_text(name) for name in self.steps.withdrawn()[-1:]] if not card else []
        unsure = self.steps.newest_open()
        if unsure is not None and (card is None or card.found == unsure.found):
            seconds = self.steps.final_in_s(unsure)
            if unsure.waits:  # its size stands above, and the big button offers to name it meanwhile
                text = (
                    tr("Wait {seconds} s before you switch anything else. You can label this change now.")
                    if seconds >= 1
                    else tr("Wait a moment before you switch anything else. You can label this change now.")
                )
            else:
                text = (
                    tr(
                        "The change of {size} is still being measured: leave everything as it is, {seconds} s more."
                    )
                    if seconds >= 1
                    else tr(
                        "The change of {size} is still being measured: leave everything as it is, a moment more."
                    )
                )
            lines = [text.format(size=self.snapshot.step_size(unsure), seconds=fixed(seconds, 0))]
        return "\n".join(lines)

    def _begun_and_ended(self, known: KnownStep) -> tuple[str, str]:
        """Time of day of a step twice; from when to when it may have been, for one that nobody saw."""
        run_utc_ns, zone = self.snapshot.run_started_utc_ns(known.found.run_id), self.snapshot.zone
        if known.found.unseen_s is None:
            at = clock_text(run_utc_ns + known.found.t_ns, zone)
            return at, at
        begun, ended = (
            clock_text(run_utc_ns + round(edge_s * NS_PER_S), zone) for edge_s in known.found.unseen_s
        )
        return begun, ended

    def question_text(self, known: KnownStep) -> str:
        """Ask what a step was, by its size and its time of day, or the two between which nobody saw it."""
        begun, ended = self._begun_and_ended(known)
        text = (
            tr("What was {step} at {begun}?")
            if known.found.unseen_s is None
            else tr("What was {step} between {begun} and {ended}?")
        )
        return text.format(step=self.snapshot.step_size(known), begun=begun, ended=ended)

    def guess_text(self, known: KnownStep, otherwise: str) -> str:
        """What a step probably was, as a question; `otherwise` where there is no guess."""
        guess = self.selection.guess(known)
        if guess is None:
            name = next((spot.name for spot in self.snapshot.spots if spot.id == known.gone_to), "")
            return tr("Did you go to “{spot}”?").format(spot=name) if name else otherwise
        source, turned_on = guess
        text = tr("{source} on?") if turned_on else tr("{source} off?")
        return text.format(source=self.snapshot.shown_source(source).name)

    def _unlabelled_row(self, known: KnownStep) -> ListRow:
        guess, when = self.guess_text(known, tr("which?")), self.clock_with_mark(known)
        return ListRow(self.snapshot.step_size(known), "", guess, when, badge=OPEN)

    def _explained_row(self, known: KnownStep) -> ListRow:
        assert known.cause is not None
        return ListRow(
            self.snapshot.step_size(known),
            "",
            tr(CAUSE_TEXTS[known.cause]),
            self.clock_with_mark(known),
            quiet=True,
        )

    def _labelled_row(self, known: KnownStep) -> ListRow:
        when = self.clock_with_mark(known)
        row = ListRow(self.steps.label_of(known), self.snapshot.step_size(known), when, quiet=known.ignored)
        if self.selection.item is not known or known.ignored:
            return row
        return replace(
            row,
            note=tr(
                "Not so? “Which was it...” gives it another name, “Ignore” takes its label away, "
                "“On instead of off” in the menu swaps on and off."
            ),
        )

    def clock_with_mark(self, known: KnownStep) -> str:
        """Time of day of a step, or between which it lies, and whether it is simulated."""
        begun, ended = self._begun_and_ended(known)
        text = "{begun}" if known.found.unseen_s is None else tr("between {begun} and {ended}")
        when = text.format(begun=begun, ended=ended)
        return listed([when, tr(SIMULATED_WORDS[SIMULATED])]) if known.simulated else when

    def _source_row(self, source: Source, effect: Effect | None) -> ListRow:
        parts = [self._kind_of(source)]
        if source.stays:
            parts.append(tr("must stay on: {why}").format(why=stays_text(source)))
        small, name = in_turn(parts), self.snapshot.shown_source(source).name
        if effect is None:
            return ListRow(name, "", small, tr("no step yet"), badge=OPEN)
        value = change_text(effect.volts, effect.u_volts)
        verdict = tr("{verdict} (on {ons}, off {offs})").format(
            verdict=tr(VERDICT_WORDS[effect.verdict]), ons=effect.ons, offs=effect.offs
        )
        if effect.simulated:
            verdict = listed([verdict, tr(SIMULATED_WORDS[SIMULATED])])
        return ListRow(name, value, small, verdict, badge=confirmation_badge(effect.verdict))

    def _kind_of(self, source: Source) -> str:
        """What kind of thing a source is, and which circuit a cord is on."""
        if source.kind == "circuit":
            return tr("two-pole circuit") if source.two_pole else tr("circuit")
        circuit = self.snapshot.shown_sources.get(source.circuit_id or 0)
        return tr("cord on {circuit}").format(circuit=circuit.name) if circuit else tr("cord")
