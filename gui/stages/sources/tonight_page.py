"""The page Tonight of the stage Sources: what to switch off, what that leaves at each spot, and the reading that
confirms it; behind Enter what each circuit gives, on which leg, and what can be done about it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtGui import QResizeEvent

from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.wording import COVERAGE_FACTOR, value_text
from gui.stages.sources.source_prompts import supply_prompt
from gui.stages.sources.sweep_page import PANEL_CAUTION
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.badge import GOOD, OPEN, UNCLEAR
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListHeading, ListRow
from logger.cautions import PANEL_CAUTIONS
from logger.sweep.switch_off_plan import AtSpot, SwitchOffPlan
from logger.sweep.switch_off_plan import SourceContribution as Given
from logger.visit.results.on_off_result import against_target

NOTHING = "nothing"

SHORT_TEXT = 60
"""So many letters fill two lines in large letters; longer lists are set smaller, for the rest of the page."""


class TonightPage(TabPage):
    """Tonight's list beside the plain rule, with what it leaves.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
    """

    page_name = "Tonight"

    def __init__(self, sweep_controller: SweepController, appearance: Appearance) -> None:
        super().__init__(sweep_controller.controller, appearance)
        self.sweep_controller = sweep_controller
        self.answer: SwitchOffPlan | None = None
        """As last worked out: it stays in sight while the next one is being worked out."""
        self.behind = False
        """What each circuit gives and the advice are in sight instead of the list."""
        self.headline = label("", "large")
        self.plain = label("", "small")
        self.robust = label("", "small")
        self.stays = label("", "quiet")
        self.spots = BarChart(appearance, whole=True)
        self.spots.clicked.connect(self._choose)
        self.missing = label("", "quiet")
        self.next = label("")
        self.circuits = BarChart(appearance)
        self.advice = RowList(appearance)
        self._read_row = 0
        """The piece of advice that is kept in sight."""
        self._hints = self.make_shortcuts(("Enter", "legs and advice, or back"), ("Down", "next"))
        for part in (
            self.headline, self.plain, self.robust, self.spots, self.next, self.stays, self.missing,
        ):  # fmt: skip
            self.column.addWidget(part)
        self.column.addWidget(self.circuits, 10)
        self.column.addWidget(self.advice, 12)
        self.column.addStretch(1)
        self.column.addWidget(self._hints)
        self.restyles(self.spots, self.circuits, self.advice)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        found = self.sweep_controller.tonight()
        if found is not None or not self.sweep_controller.is_computing:
            self.answer = found
        answer = self.answer
        headline = self._say_headline(answer)
        self.headline.setText(headline)
        set_role(self.headline, "large" if len(headline) <= SHORT_TEXT and not self.behind else "title")
        for part in (self.plain, self.robust, self.spots, self.next, self.stays):
            part.setVisible(answer is not None and not self.behind)
        for behind in (self.circuits, self.advice):
            behind.setVisible(answer is not None and self.behind)
        self._show_missing(answer)
        if answer is not None and self.behind:
            self._show_circuits(answer)
            self._show_advice(answer)
        elif answer is not None:
            self._show_lists(answer)
            self._show_spots(answer)
            self.next.setText(self._say_next(answer))
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        self._hints.show()
        self.spots.set_dense(False)
        set_role(self.next, "")
        gives_way: list[Callable[[], None]] = [
            self.stays.hide,
            *([self.missing.hide] if self.answer is not None else []),
            self._hints.hide,
            lambda: self.spots.set_dense(True),
            lambda: set_role(self.headline, "title"),
            lambda: set_role(self.next, "small"),
            self.plain.hide,
        ]
        for give_way in gives_way:
            if not self._is_too_low():
                return
            give_way()

    def _is_too_low(self) -> bool:
        return self.column.minimumHeightForWidth(self.width()) > self.height()

    def primary_action(self) -> Message | None:
        """See `Page`."""
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            return Message(f"{waiting.combination.says} is awaited; Esc gives it up", refused=True)
        if self.controller.setup.stated.supply is None:
            return Message("state what supply the home has")
        wanted = self.sweep_controller.wanted_for_tonight()
        if wanted is None:
            if self.sweep_controller.is_computing:
                return Message("Tonight's list is being worked out.", refused=True)
            return Message("Nothing is left to read for tonight's list.", refused=True)
        spot, _ = wanted
        return Message(f"it is switched: take it at “{spot.name}” once settled")

    def _say_headline(self, answer: SwitchOffPlan | None) -> str:
        if answer is None:
            if self.controller.setup.stated.supply is None:
                return "What supply has the home? Space asks."
            if self.sweep_controller.is_computing:
                return "Tonight's list is being worked out."
            return "Not enough is read yet: sweep the breakers first."
        off = ", ".join(source.name for source in answer.off)
        unplug = ", ".join(source.name for source in answer.unplug)
        message = [f"Switch off: {off}."] if off else []
        message += [f"Unplug: {unplug}."] if unplug else []
        if not message:
            message = ["Nothing has to be switched off."]
        if answer.ambiguous and not self._only_confirms(answer):
            return f"Not decided yet. As it stands: {' '.join(message)}"
        if not answer.meets_target:
            return f"The target is not reached. Nearest: {' '.join(message)}"
        return " ".join(message)

    def _show_lists(self, answer: SwitchOffPlan) -> None:
        self.plain.setText(self._say_plain_rule(answer))
        lines = [
            f"Instead of {circuit.name}: unplug {', '.join(cord.name for cord in cords)}."
            for circuit, cords in answer.instead
        ]
        if answer.relies_on_cancellation:
            robust = ", ".join(source.name for source in answer.off_robust) or NOTHING
            most = max(answer.spots, key=lambda spot: spot.predicted_robust_volts)
            lines.insert(
                0,
                "It relies on live circuits that cancel each other: for this posture only. Without that: "
                f"{robust} ({most.predicted_robust_volts:.2f} V at “{most.name}”).",
            )
        self.robust.setText("\n".join(lines))
        self.robust.setVisible(bool(lines))
        self.stays.setText(f"Stays on: {', '.join(source.name for source in answer.stays)}")
        self.stays.setVisible(bool(answer.stays))

    def _say_plain_rule(self, answer: SwitchOffPlan) -> str:
        """The rule of the trade beside tonight's list: what it would switch off, and what that would leave."""
        target = f"each that alone gives more than {self.controller.setup.stated.target_volts:g} V"
        if {s.id for s in (*answer.off, *answer.unplug)} == {s.id for s in answer.plain}:
            return f"The plain rule ({target}) says the same."
        worst = max(answer.spots, key=lambda spot: spot.predicted_plain_volts)
        rule = ", ".join(source.name for source in answer.plain) or NOTHING
        return (
            f"The plain rule ({target}): {rule}. It would leave {worst.predicted_plain_volts:.2f} V "
            f"at “{worst.name}”."
        )

    def _show_spots(self, answer: SwitchOffPlan) -> None:
        here = self._here(answer)
        self.spots.show_bars(
            [self._spot_bar(spot) for spot in answer.spots],
            answer.spots.index(here) if len(answer.spots) > 1 else None,
            self.controller.setup.stated.target_volts,
        )

    def _spot_bar(self, spot: AtSpot) -> Bar:
        if spot.confirming is None:
            predicted = spot.predicted
            target = against_target(predicted, self.controller.setup.stated.target_volts)
            return Bar(
                spot.name,
                value_text(predicted.volts, predicted.u_volts),
                predicted.volts,
                COVERAGE_FACTOR * predicted.u_volts,
                f"predicted, {target}",
                OPEN,
            )
        context = spot.confirming.context
        read = context.budget(spot.confirming.volts, spot.confirming.u_volts) if context else spot.predicted
        good = spot.confirmed.startswith("below") and spot.confirmed.endswith("as predicted")
        return Bar(
            spot.name,
            value_text(read.volts, read.u_volts),
            read.volts,
            COVERAGE_FACTOR * read.u_volts,
            f"read: {spot.confirmed}",
            GOOD if good else UNCLEAR,
        )

    def _say_next(self, answer: SwitchOffPlan) -> str:
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            left_s = self.sweep_controller.left_s()
            held = f"{waiting.combination.says} at “{waiting.spot.name}”"
            if left_s is None:
                return f"Waiting: {held}, until the value has settled. Esc gives it up."
            return f"Settled, {held}: taken in {math.ceil(left_s)} s."
        if self.sweep_controller.is_computing:
            return "It is being worked out anew."
        wanted = self.sweep_controller.wanted_for_tonight()
        if wanted is None:
            return "Confirmed by a reading." if not answer.ambiguous else ""
        spot, combination = wanted
        switch = self.sweep_controller.to_switch_for(combination)
        why = (
            "One more reading would decide"
            if answer.ambiguous and not self._only_confirms(answer)
            else "One reading confirms it and is part of the answer"
        )
        return f"{why}. Lie at “{spot.name}”. {switch} Then Space."

    def _only_confirms(self, answer: SwitchOffPlan) -> bool:
        """The reading that is asked for is the one with tonight's list switched off: nothing else is open."""
        wanted = answer.next_combination
        if wanted is None:
            return True
        off = {source.id for source in (*answer.off, *answer.unplug)}
        return wanted.live == frozenset(s.id for s in self.sweep_controller.sources if s.id not in off)

    def _show_missing(self, answer: SwitchOffPlan | None) -> None:
        """Which spots have not been swept."""
        swept = {spot.spot_id for spot in answer.spots} if answer else set()
        left = [spot.name for spot in self.controller.route.indoor_spots() if spot.id not in swept]
        text = f"Not swept: {', '.join(left)}." if answer is not None and left else ""
        if answer is None:
            text = PANEL_CAUTION
        self.missing.setText(text)
        self.missing.setVisible(bool(text) and not self.behind)

    def _show_circuits(self, answer: SwitchOffPlan) -> None:
        here = self._here(answer)
        self.circuits.show_bars(
            [
                Bar(
                    bar.source.name,
                    value_text(bar.volts, bar.u_volts),
                    bar.volts,
                    COVERAGE_FACTOR * bar.u_volts,
                    ", ".join(filter(None, (_leg(bar), bar.source.stays))),
                )
                for bar in sorted(here.bars, key=lambda bar: -bar.volts)
            ],
            None,
            self.controller.setup.stated.target_volts,
            here.background_volts,
        )

    def _show_advice(self, answer: SwitchOffPlan) -> None:
        rows: list[ListRow | ListHeading] = [ListHeading("What can be done")] if answer.advice else []
        rows += [
            ListRow(piece.about or piece.kind.value.capitalize(), note=piece.text) for piece in answer.advice
        ]
        rows.append(ListHeading("Cautions"))
        rows += [ListRow("Caution", note=text, quiet=True) for text in PANEL_CAUTIONS]
        self.advice.show_rows(rows, min(self._read_row, sum(isinstance(row, ListRow) for row in rows) - 1))

    def _here(self, answer: SwitchOffPlan) -> AtSpot:
        """The chosen spot, if it was swept; else the first that was."""
        return next(
            (spot for spot in answer.spots if spot.spot_id == self.controller.route.chosen_id),
            answer.spots[0],
        )

    # --- keys --------------------------------------------------------------------------------------------

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if ACTION_OF.get(name) == "take":
            self._switched()
        elif name in ("Up", "Down") and self.answer is not None and self.behind:
            self._read_row = min(
                max(self._read_row + (1 if name == "Down" else -1), 0), len(self.advice.rows) - 1
            )
        elif name in ("Up", "Down") and self.answer is not None:
            at = self.answer.spots.index(self._here(self.answer)) + (1 if name == "Down" else -1)
            self._choose(min(max(at, 0), len(self.answer.spots) - 1))
        elif name == "Return" and self.answer is not None:
            self.behind, self._read_row = not self.behind, 0
        else:
            return False
        return True

    def _choose(self, row: int) -> None:
        if self.answer is not None:
            self.controller.route.chosen_id = self.answer.spots[row].spot_id
            self.refresh()

    def _switched(self) -> None:
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            self.controller.message = Message(
                f"{waiting.combination.says} is awaited already. Esc gives it up."
            )
            return
        if self.controller.setup.stated.supply is None:
            self.prompt_requested.emit(supply_prompt(self.sweep_controller))
            return
        wanted = self.sweep_controller.wanted_for_tonight()
        says = self.primary_action()
        if wanted is None:
            self.controller.message = says or Message("Nothing is left to read.", refused=True)
            return
        spot, combination = wanted
        self.controller.route.chosen_id = spot.id
        self.sweep_controller.choose(combination)
        self.sweep_controller.switched()


def _leg(bar: Given) -> str:
    return f"leg {bar.leg}" if bar.leg else "leg open"
