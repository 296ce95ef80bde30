"""The page of the stage Check: proof that meter and reference work, step by step."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QLabel

from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import delete_hint, set_spoken_description
from gui.model.check_controller import CheckController
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import clock_or_day, clock_text, doubt_text
from gui.shell.question import Choice, Question
from gui.stages.check.check_spot_prompt import check_spot_prompt
from gui.stages.check.same_meter_prompt import same_meter_prompt
from gui.stages.check.wetted_soil_prompt import wetted_soil_prompt
from gui.stages.verdict_badges import check_badge
from gui.trace.reading_interval import ReadingInterval
from gui.trace.trace_picture import TracePicture
from gui.widgets.appearance import Appearance, label, separator, set_role
from gui.widgets.badge import BAD, GOOD, OPEN
from gui.widgets.page import Page, PrimaryAction
from gui.widgets.row_list import MIN_ROWS, RowList
from gui.widgets.row_model import ListRow
from logger.metrology.check_words import (
    check_name,
    check_name_alone,
    lapse_text,
    verdict_alone,
    verdict_word,
)
from logger.metrology.checks import CAUTIONS, REQUIRED_CHECKS, STEPS, CheckKind, CheckVerdict
from logger.metrology.posture import Repeatability
from logger.metrology.reference_error import SHARED_BY_BOTH_RODS_VOLTS, UNPROVEN_ROD_VOLTS
from logger.metrology.rounding import fixed, grouped, plain
from logger.name_list import listed
from logger.simulation.practice_switches import GroupKind
from logger.translation import kept_text, marked, tr, tr_all, tr_kept, tr_n
from logger.visit.records.reading_records import CheckResult
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_WORDS
from logger.visit.results.check_review import not_alike
from logger.visit.results.posture_repeats import repeatability_on_site

USUAL_SPACING, LOW_SPACING = 8, 4
"""Pixels between the parts of the page, and in a window that is too low for them."""

SKIP_REASONS: dict[CheckKind, tuple[str, ...]] = {
    CheckKind.ZERO: (kept_text("reference wire cannot be reached"),),
    CheckKind.REFERENCE: (
        kept_text("reference cannot be improved here"),
        kept_text("no rod: building earth"),
    ),
    CheckKind.FUNCTION: (kept_text("the person is sensitive to it"), kept_text("no lamp cord at hand")),
    CheckKind.TWO_RODS: (kept_text("no second rod at hand"), kept_text("no second place to dig")),
    CheckKind.LEAD: (kept_text("the wire cannot be moved"),),
}


NOT_DONE_TEXTS: dict[CheckKind, str] = {
    CheckKind.TWO_RODS: marked(
        "Not done: the error of the rod is taken as up to {unproven} V. With this check it can be as low as "
        "{proven} V."
    ),
    CheckKind.LEAD: marked(
        "Not done. It can show that a wire picks up voltage. It cannot prove that a wire is good."
    ),
}
"""What is shown while a check that nobody has to do was not done."""

DO_IT_AGAIN = marked("Do it again. Until then each reading is marked as taken without this check.")
NOT_DONE = marked("Not done yet. Until then each reading is marked as taken without this check.")

TOO_SMALL_RISE = kept_text("the value did not rise enough with the cord near")
"""Why a check is skipped that has failed before its last step."""

SOMEBODY_ELSE = kept_text("function check: somebody else does it")
"""Is marked; in the log, and so in one language."""


def _skip_text(reason: str) -> str:
    return tr("Skip: {reason}").format(reason=tr_kept(reason))


_SWITCHES = {CheckKind.FUNCTION: (GroupKind.CORDS, GroupKind.PERSON)}
"""What is switched in the practice house for a check that needs something else than the others."""


def _step_action(checks: CheckController, take: Callable[[], None]) -> PrimaryAction:
    """Take the next step of the chosen check, or why it cannot be taken now."""
    step = checks.next_step()
    name = tr("Take the step “{step}”").format(step=checks.step_name()) if step.refused else step.text
    return PrimaryAction(name, take, step.text if step.refused else "", takes_value=True, does="step")


def _skip_reasons(checks: CheckController) -> tuple[str, ...]:
    """Why the chosen check may be skipped; first that it has failed, where it has."""
    failed = (TOO_SMALL_RISE,) if checks.failure_so_far() else ()
    return (*failed, *SKIP_REASONS[checks.chosen])


def posture_text(repeatability: Repeatability) -> str:
    """How well the posture repeats in this visit, and how to find out."""
    if repeatability.repeats:
        count = repeatability.repeats
        return tr_n(
            "The posture repeats to {share}% of the value here, from {n} repeat.",
            "The posture repeats to {share}% of the value here, from {n} repeats.",
            count,
        ).format(share=fixed(100 * repeatability.share, 1), n=grouped(count))
    return tr(
        "How much the value changes when the same posture is taken up again has not been "
        "measured here; {share}% of the value is assumed for that. To measure it, take a "
        "reading at a spot, get up, take up the same posture and take it again, with the "
        "same things on. The program then uses what was measured."
    ).format(share=fixed(100 * repeatability.share, 0))


def step_rows(checks: CheckController) -> list[ListRow]:
    """The steps of the chosen check with the values that were taken; one by which it fails already shows so."""
    rows, failure = [], checks.failure_so_far()
    for index, step in enumerate(STEPS[checks.chosen]):
        if index >= len(checks.spans):
            is_later = bool(failure) or index > len(checks.spans)
            rows.append(ListRow(tr_kept(step.name), quiet=is_later, badge=OPEN))
            continue
        value = checks.taken_text(index)
        has_failed = bool(failure) and index == len(checks.spans) - 1
        small, badge = (failure, BAD) if has_failed else ("", GOOD)
        rows.append(ListRow(tr_kept(step.name), value, small, badge=badge))
    return rows


def _next_row(checks: CheckController) -> int | None:
    """The row of the step that is taken next; None where none is, as after one by which the check fails."""
    taken = len(checks.spans)
    return None if checks.failure_so_far() or taken == len(STEPS[checks.chosen]) else taken


def check_row(controller: VisitController, kind: CheckKind) -> ListRow:
    """A check with its newest result, and what became of that."""
    last = controller.checks.last_result(kind)
    head = check_name_alone(kind)
    if last is None:
        return ListRow(head, tr("not done") if kind in REQUIRED_CHECKS else tr("optional"), badge=OPEN)
    when = clock_or_day(last.utc_ns, controller.clock.utc_ns(), controller.snapshot.zone, seconds=False)
    lapse = controller.checks.lapse(last)
    if lapse is not None:
        return ListRow(
            f"{head}  {when}",
            lapse_text(lapse),
            badge=OPEN,
        )
    verdict, by_now = verdict_word(last.outcome.verdict), controller.checks.verdict(last)
    doubt = tr("in doubt") if controller.checks.doubts(last) else ""
    return ListRow(
        f"{head}  {when}",
        listed(
            [
                verdict,
                *([tr(SIMULATED_WORDS[SIMULATED])] if last.simulated else []),
                *([doubt] if doubt else []),
            ]
        ),
        badge=check_badge(by_now),
    )


def failed_later_text(controller: VisitController, result: CheckResult | None) -> str:
    """What it means that a check failed after readings; empty where that is not so."""
    found = [one for one in controller.snapshot.failed_later if one.failed is result]
    if not found:
        return ""
    if found[0].passed is None:
        covered = any(found[0].covers(reading) for reading in controller.snapshot.readings)
        text = tr("Readings taken before it are in doubt: read them again once it has passed.")
        return text if covered else ""
    return tr("It had passed at {time}. Readings taken since then are in doubt: read them again.").format(
        time=clock_text(found[0].passed.utc_ns, controller.snapshot.zone, seconds=False)
    )


def caution_text(kind: CheckKind) -> str:
    """What somebody must know before the check."""
    return tr("Caution: {caution}").format(caution=tr_all(CAUTIONS[kind]))


# long: two lists, what stands below them, and which of it goes first on a low page.
class CheckPage(Page):
    """The checks, the steps of the chosen one, its caution and its newest verdict.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    title = marked("Check meter and reference")
    place = "check"
    reading_taken = Signal()
    """A step's value was taken."""

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self.list = RowList(appearance, tr("Checks"))
        self.list.row_model.key_hint = delete_hint("check.restart")
        self.list.row_chosen.connect(self._choose)
        self.steps = RowList(appearance, tr("Steps of the check"))
        self.steps.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.instruction = label("")
        self.verdict = label("", "small")
        self.doubt = label("", "small")
        self.repeat = label("", "small")
        """The offer to repeat the checks at the end of the visit."""
        self.picture = TracePicture(controller, appearance)
        self._shown_id: int | None = None
        """The id of the result that the user went back to; None shows the newest, or the steps that are being done."""
        self._does_again: CheckKind | None = None  # begun anew, though it has a result that holds
        self._caution = label("", "quiet")
        self.posture = label("", "quiet")
        """How well the posture repeats, and the offer to measure it."""
        self._buttons = self.make_buttons(
            "check.skip", "check.restart", "check.earlier", "check.spot", "check.same_meter"
        )
        actions.bind("check.skip", self._ask_skip)
        actions.bind("check.restart", self._restart)
        actions.bind("check.earlier", self._look_back)
        actions.bind("check.spot", self._ask_spot, self._why_not_spot)
        actions.bind("check.same_meter", self._ask_same_meter, self._why_not_same_meter)
        self.column.addWidget(self.list)
        self.column.addWidget(self._buttons)
        (self._heading,) = self.findChildren(QLabel, options=Qt.FindChildOption.FindDirectChildrenOnly)[:1]
        self._line = separator()
        self.column.addWidget(self._line)
        self.column.addWidget(self.repeat)
        self.column.addWidget(self.steps)
        self.column.addWidget(self.instruction)
        self.column.addWidget(self.verdict)
        self.column.addWidget(self.doubt)
        self.column.addWidget(self.picture, 20)  # before the empty room at the foot
        self.column.addWidget(self._caution)
        self.column.addWidget(self.posture)
        self.column.addStretch(1)
        self.restyles(self.list, self.steps, self.picture)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        controller = self.controller
        kinds = controller.checks.kinds()
        self.list.show_rows(
            [check_row(controller, kind) for kind in kinds], kinds.index(controller.checks.chosen)
        )
        spans = controller.checks.spans
        self.steps.show_rows(step_rows(controller.checks), _next_row(controller.checks))
        for rows_shown in (self.steps, self.list):
            rows_shown.fit_height()
        self._buttons.buttons["check.same_meter"].setVisible(bool(controller.checks.other_line_forms()))
        self._caution.setText(caution_text(controller.checks.chosen))
        self.posture.setText(posture_text(repeatability_on_site(controller.snapshot.readings)))
        shown, instruction = self._shown(), controller.checks.instruction()
        # Where the big button takes a step though a result is in sight, what that step asks for stays in sight too.
        if shown is not None and not spans:
            instruction = tr("To do it again: {instruction}").format(instruction=instruction)
        set_role(self.instruction, "small" if shown is not None and not spans else "")
        self.instruction.setText(instruction)
        set_spoken_description(self.list, "" if self._goes_on(shown) else instruction)
        self.steps.setVisible(shown is None)
        self.verdict.setText(self._verdict_text(shown) if shown else self._not_done_text())
        to_repeat = controller.checks.to_repeat()
        repeat = tr("Every spot is read. At the end of the visit, repeat: {checks}.")
        self.repeat.setText(repeat.format(checks=", ".join(map(check_name, to_repeat))))
        doubts = controller.checks.doubts(shown) if shown else {}
        sentences = [
            doubt_text(doubts, tr("In doubt, repeat the check: {names}. {doubt}")),
            failed_later_text(controller, shown or controller.checks.failed_by_steps()),
            controller.checks.left_text(),
        ]
        self.doubt.setText("\n".join(filter(None, sentences)))
        self.doubt.setVisible(any(sentences))
        self.picture.show_values(
            [ReadingInterval.of_step(controller, step) for step in (shown.steps if shown else ())]
        )
        self._make_room()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt. Where checks have lapsed or are to be repeated, the first of them is chosen."""
        super().showEvent(event)
        checks = self.controller.checks
        if not checks.spans and (checks.lapses() or checks.to_repeat()):
            checks.choose_next()
            self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything. The caution stays with the steps."""
        self.picture.setVisible(bool(self.picture.intervals))
        shown = self._shown()
        self.verdict.setVisible(not self.controller.checks.spans or shown is not None)
        self.repeat.setVisible(bool(self.controller.checks.to_repeat()))
        for part in (self._heading, self._caution, self.list, self._line):
            part.show()
        self.posture.setVisible(shown is None)
        self.instruction.setVisible(not self._goes_on(shown))
        self.list.fit_height()
        # The list is what can be clicked, and never goes: it shrinks and scrolls. The caution goes with the steps.
        fewer = [partial(self.list.fit_height, count) for count in range(self.list.count() - 1, 0, -1)]
        can_go: list[Callable[[], object]] = [
            part.hide for part in (self.posture, self.verdict, self.repeat, self._line, self._heading)
        ]
        if shown:
            can_go = [self._heading.hide, *fewer[: 1 - MIN_ROWS], self._caution.hide, self._drop_picture]
            if shown.outcome.verdict is not CheckVerdict.FAILED:
                can_go.insert(0, self.instruction.hide)
        self.column.setSpacing(USUAL_SPACING)
        if self.is_too_low():
            self.column.setSpacing(LOW_SPACING)
        self.give_way([*can_go, *fewer])
        # Showing a part lays the page out at once, with the parts that are then hidden.
        self.column.invalidate()
        self.column.activate()

    def _drop_picture(self) -> None:
        self.picture.hide()
        self.list.fit_height()

    def _results(self) -> list[CheckResult]:
        """Every result of the chosen check, oldest first."""
        return [
            check for check in self.controller.snapshot.checks if check.kind is self.controller.checks.chosen
        ]

    def _shown(self) -> CheckResult | None:
        """The result in sight; None while the steps are."""
        results = self._results()
        looked_at = next((result for result in results if result.id == self._shown_id), None)
        if (
            looked_at is None
            and not self.controller.checks.spans
            and self._does_again is not self.controller.checks.chosen
        ):
            return self.controller.checks.valid_result(self.controller.checks.chosen)
        return looked_at

    def _goes_on(self, shown: CheckResult | None) -> bool:
        """Whether the big button goes on to the spots, rather than take a step."""
        return shown is not None and self.controller.checks.are_done()

    def _verdict_text(self, result: CheckResult) -> str:
        """The verdict and when it was reached."""
        results = self._results()
        at = clock_or_day(result.utc_ns, self.controller.clock.utc_ns(), self.controller.snapshot.zone)
        parts = [verdict_alone(result.outcome.verdict, simulated=result.simulated), at]
        if len(results) > 1:
            number = results.index(result) + 1
            parts.append(tr("result {number} of {count}").format(number=number, count=len(results)))
        parts += [tr("at “{spot}”").format(spot=name) for name in result.spot_names]
        if lapse := self.controller.checks.lapse(result):
            parts.append(lapse_text(lapse))
        text = tr("{facts}: {sentence}").format(
            facts=listed(parts), sentence=tr_kept(result.outcome.sentence)
        )
        return " ".join(filter(None, (text, not_alike(result))))

    def _not_done_text(self) -> str:
        """What is shown while a check has no result that holds."""
        kind = self.controller.checks.chosen
        lapsed = self.controller.checks.last_result(kind)
        if lapsed is not None:
            sentences = [self._verdict_text(lapsed), tr(DO_IT_AGAIN)]
            if self.controller.checks.other_line_forms():
                sentences.append(tr("Is it the same meter? Answer with the button below."))
            return " ".join(sentences)
        return tr(NOT_DONE_TEXTS.get(kind, NOT_DONE)).format(
            unproven=plain(UNPROVEN_ROD_VOLTS), proven=plain(SHARED_BY_BOTH_RODS_VOLTS)
        )

    def _look_back(self) -> None:
        """Go to the result before the one in sight; after the oldest to the newest, or back to the steps."""
        shown, results = self._shown(), self._results()
        older = results if shown is None else results[: results.index(shown)]
        if not results or (len(results) == 1 and shown is not None and self._shown_id is None):
            text = tr("The {check} has no earlier result.")
            self.controller.message = Message(text.format(check=check_name(self.controller.checks.chosen)))
        self._shown_id = older[-1].id if older else None

    def used_switches(self) -> tuple[GroupKind, ...]:
        """See `Page`."""
        return _SWITCHES.get(self.controller.checks.chosen, (GroupKind.EARTH, GroupKind.PERSON))

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        if self._goes_on(self._shown()):
            return PrimaryAction(
                tr("Go on to the spots"), lambda: self.registry.trigger("stage.spots"), does="spots"
            )
        if self.controller.checks.failure_so_far():
            again = self.registry["check.restart"].text().replace("&", "")
            return PrimaryAction(again, lambda: self.registry.trigger("check.restart"), does="restart")
        return _step_action(self.controller.checks, self._take_step)

    def _take_step(self) -> None:
        if self.controller.checks.asks_spot():
            self.question_requested.emit(check_spot_prompt(self.controller, self._take_step))
            return
        self._shown_id, kind = None, self.controller.checks.chosen
        if self.controller.checks.take_step():
            self._does_again = None
            self.reading_taken.emit()
            question = wetted_soil_prompt(self.controller, kind)
            if question is not None:
                self.question_requested.emit(question)

    def _ask_spot(self) -> None:
        self.question_requested.emit(check_spot_prompt(self.controller))

    def _why_not_spot(self) -> str:
        return "" if self.controller.snapshot.spots else tr("There is no spot yet. Add one first.")

    def _restart(self) -> None:
        self._shown_id, self._does_again = None, self.controller.checks.chosen
        self.controller.checks.restart()

    def _ask_same_meter(self) -> None:
        self._shown_id = None
        self.question_requested.emit(same_meter_prompt(self.controller))

    def _why_not_same_meter(self) -> str:
        differs = self.controller.checks.other_line_forms()
        return (
            ""
            if differs
            else tr("Nothing to answer: the meter sends its values in the same form as at the checks.")
        )

    def _choose(self, row: int) -> None:
        self._shown_id = self._does_again = None
        self.controller.checks.choose(self.controller.checks.kinds()[row])
        self.refresh()
        self.choice_made.emit()

    def _ask_skip(self) -> None:
        self._shown_id = None
        controller, kind = self.controller, self.controller.checks.chosen

        def because(reason: str) -> Callable[[], None]:
            return lambda: controller.checks.skip(reason)

        def somebody_else() -> None:
            controller.checks.restart()
            controller.marks.put(SOMEBODY_ELSE)
            controller.message = Message(
                tr("Marked. Let the other person hold the probe, then take the steps.")
            )

        def by_words() -> None:
            self.question_requested.emit(
                Question(
                    tr("Why is it skipped?"),
                    on_text=lambda text: controller.checks.skip(text),
                    enter_text=tr("Skip it"),
                )
            )

        answers = [Choice(_skip_text(reason), because(reason)) for reason in _skip_reasons(controller.checks)]
        if kind is CheckKind.FUNCTION:
            answers.append(Choice(tr("Somebody else does it instead"), somebody_else))
        answers.append(Choice(tr("Skip for another reason: type it"), by_words))
        self.question_requested.emit(
            Question(
                tr("Skip the {check}?").format(check=check_name(kind)),
                tr("The visit goes on. Every reading notes that this check was skipped."),
                tuple(answers),
                escape_text=tr("Do not skip"),
            )
        )
