"""Every part of the window that can be opened alone, by its name; on the demo visit."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtWidgets import QVBoxLayout, QWidget

from gui.actions.registry import ActionRegistry
from gui.app import make_application
from gui.dev.demo import demo_visit
from gui.model.night_controller import NightController
from gui.model.plan_controller import PlanController
from gui.model.report_controller import ReportController
from gui.model.sweep_controller import SweepController
from gui.model.visit_controller import VisitController
from gui.shell.action_bar import ActionBar
from gui.shell.message_bar import MessageBar
from gui.shell.readout import Readout
from gui.shell.stage_list import StageList
from gui.stages.check.check_page import CheckPage
from gui.stages.connect.connect_page import ConnectPage
from gui.stages.connect.identify_page import IdentifyPage
from gui.stages.night.morning_page import MorningPage
from gui.stages.night.night_compare_page import NightComparePage
from gui.stages.night.night_stage import NightStage
from gui.stages.night.start_page import StartPage
from gui.stages.plan.plan_page import PlanPage
from gui.stages.prepare.prepare_page import PreparePage
from gui.stages.report.archive_page import ArchivePage
from gui.stages.report.report_stage import ReportStage
from gui.stages.report.visit_compare_page import VisitComparePage
from gui.stages.sources.panel_page import PanelPage
from gui.stages.sources.sources_stage import SourcesStage
from gui.stages.sources.steps_page import StepsPage
from gui.stages.sources.sweep_page import SweepPage
from gui.stages.sources.tonight_page import TonightPage
from gui.stages.spots.budget_page import BudgetPage
from gui.stages.spots.spots_page import SpotsPage
from gui.trace.reading_interval import ReadingInterval
from gui.trace.trace_picture import TracePicture
from gui.trace.trace_plot import TracePlot
from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.badge import GOOD, OPEN, Badge, BadgeShape
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.theme import Sizes, current, style_sheet


@dataclass(frozen=True)
class Part:
    """How one part is made, and the size of its window in pixels."""

    make: Callable[[VisitController, Appearance], StyledWidget]
    width: int
    height: int


def _bar_chart(_: VisitController, appearance: Appearance) -> BarChart:
    """Some rows of each kind."""
    bars = BarChart(appearance, "Bars")
    tick = GOOD
    rows = [
        Bar("Everything off", "0.05 ± 0.01 V", 0.05, 0.01, badge=tick),
        Bar("Bedroom outlets", "0.62 ± 0.03 V", 0.62, 0.03, "3 readings", tick),
        Bar("Refrigerator", "stays on", note="keeps food cold", badge=Badge(BadgeShape.DASH), has_bar=False),
        Bar("Range", "not read yet", note="two-pole", badge=OPEN, quiet=True),
    ]
    bars.show_bars(rows, 1, 0.1, 0.05)
    return bars


def _trace_picture(controller: VisitController, appearance: Appearance) -> TracePicture:
    picture = TracePicture(controller, appearance)
    intervals = (ReadingInterval.of_reading(controller, r, r.spot_name) for r in controller.snapshot.readings)
    picture.show_values([interval for interval in intervals if interval is not None])
    return picture


PARTS: dict[str, Part] = {
    "action_bar": Part(ActionBar, 1280, 46),
    "archive_page": Part(
        lambda s, appearance: ArchivePage(ReportController(s), appearance, ActionRegistry()), 430, 560
    ),
    "bar_chart": Part(_bar_chart, 420, 300),
    "budget_page": Part(lambda s, appearance: BudgetPage(s, appearance, ActionRegistry()), 400, 560),
    "check_page": Part(lambda s, appearance: CheckPage(s, appearance, ActionRegistry()), 400, 620),
    "connect_page": Part(lambda s, appearance: ConnectPage(s, appearance, ActionRegistry()), 400, 560),
    "identify_page": Part(lambda s, appearance: IdentifyPage(s, appearance, ActionRegistry()), 400, 560),
    "message_bar": Part(MessageBar, 400, 80),
    "morning_page": Part(
        lambda s, appearance: MorningPage(NightController(s), appearance, ActionRegistry()), 430, 560
    ),
    "night_compare_page": Part(
        lambda s, appearance: NightComparePage(NightController(s), appearance, ActionRegistry()), 430, 560
    ),
    "night_stage": Part(
        lambda s, appearance: NightStage(NightController(s), appearance, ActionRegistry(), lambda: None),
        430,
        560,
    ),
    "panel_page": Part(
        lambda s, appearance: PanelPage(SweepController(s), appearance, ActionRegistry()), 430, 560
    ),
    "plan_page": Part(
        lambda s, appearance: PlanPage(
            PlanController(s, SweepController(s), NightController(s)),
            ReportController(s),
            appearance,
            ActionRegistry(),
        ),
        430,
        560,
    ),
    "prepare_page": Part(lambda s, appearance: PreparePage(s, appearance, ActionRegistry()), 400, 620),
    "readout": Part(Readout, 1280, 150),
    "report_stage": Part(
        lambda s, appearance: ReportStage(ReportController(s), appearance, ActionRegistry(), lambda: None),
        430,
        560,
    ),
    "sources_stage": Part(
        lambda s, appearance: SourcesStage(SweepController(s), appearance, ActionRegistry()), 430, 560
    ),
    "spots_page": Part(lambda s, appearance: SpotsPage(s, appearance, ActionRegistry()), 400, 560),
    "stage_list": Part(StageList, 170, 520),
    "start_page": Part(
        lambda s, appearance: StartPage(NightController(s), appearance, ActionRegistry()), 430, 560
    ),
    "steps_page": Part(
        lambda s, appearance: StepsPage(SweepController(s), appearance, ActionRegistry()), 430, 560
    ),
    "sweep_page": Part(
        lambda s, appearance: SweepPage(SweepController(s), appearance, ActionRegistry()), 430, 560
    ),
    "tonight_page": Part(
        lambda s, appearance: TonightPage(SweepController(s), appearance, ActionRegistry()), 430, 560
    ),
    "trace_picture": Part(_trace_picture, 760, 200),
    "trace_plot": Part(TracePlot, 760, 520),
    "visit_compare_page": Part(
        lambda s, appearance: VisitComparePage(ReportController(s), appearance, ActionRegistry()), 430, 560
    ),
}


def show_part(name: str) -> None:
    """Show a part until its window is closed; raises KeyError for a name that is not in `PARTS`."""
    part = PARTS[name]
    application = make_application()
    with tempfile.TemporaryDirectory() as folder:
        log, clock = demo_visit(Path(folder))
        appearance = Appearance(current(), Sizes.for_height(720))
        holder = QWidget()
        holder.setObjectName("window")
        holder.setStyleSheet(style_sheet(appearance.theme, appearance.sizes))
        layout = QVBoxLayout(holder)
        layout.setContentsMargins(0, 0, 0, 0)
        widget = part.make(VisitController(log, clock), appearance)
        widget.set_appearance(appearance)
        layout.addWidget(widget)
        holder.resize(part.width, part.height)
        holder.setWindowTitle(name)
        holder.show()
        application.exec()
        log.close()
