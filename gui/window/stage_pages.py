"""The page of each stage, and the pages that any stage can open: identify, uncertainty budget."""

from __future__ import annotations

from PySide6.QtWidgets import QStackedWidget

from gui.actions.registry import NOT_HERE, ActionRegistry
from gui.model.night_controller import NightController
from gui.model.plan_controller import PlanController
from gui.model.report_controller import ReportController
from gui.model.stages import CHECK, CONNECT, NIGHT, PLAN, PREPARE, REPORT, SOURCES, SPOTS, Stage
from gui.model.sweep_controller import SweepController
from gui.model.visit_controller import VisitController
from gui.stages.check.check_page import CheckPage
from gui.stages.connect.connect_page import ConnectPage
from gui.stages.connect.identify_page import IdentifyPage
from gui.stages.night.night_stage import NightStage
from gui.stages.plan.plan_page import PlanPage
from gui.stages.prepare.prepare_page import PreparePage
from gui.stages.report.report_stage import ReportStage
from gui.stages.sources.sources_stage import SourcesStage
from gui.stages.spots.budget_page import BudgetPage
from gui.stages.spots.spots_page import SpotsPage
from gui.widgets.appearance import Appearance
from gui.widgets.keyboard_return import release_keyboard
from gui.widgets.page import Page
from gui.widgets.page_area import PageArea
from gui.widgets.paged_stage import PagedStage
from logger.translation import tr


class StagePages:
    """All pages of the window, of which one is shown.

    Args:
        controller: the visit.
        sweep_controller: the work of the stage Sources.
        night_controller: the work of the stage Night.
        report_controller: the work of the stage Report.
        plan_controller: the work of the stage Plan.
        appearance: theme and sizes.
        actions: the actions of the window.
        port: URL of the port to choose first.
    """

    def __init__(
        self,
        controller: VisitController,
        sweep_controller: SweepController,
        night_controller: NightController,
        report_controller: ReportController,
        plan_controller: PlanController,
        appearance: Appearance,
        actions: ActionRegistry,
        port: str | None,
    ) -> None:
        self.connect = ConnectPage(controller, appearance, actions, port)
        self.prepare = PreparePage(controller, appearance, actions)
        self.check = CheckPage(controller, appearance, actions)
        self.spots = SpotsPage(controller, appearance, actions)
        self.sources = SourcesStage(sweep_controller, appearance, actions)
        self.night = NightStage(night_controller, appearance, actions, sweep_controller.tonight)
        self.report = ReportStage(report_controller, appearance, actions, sweep_controller.tonight)
        self.plan = PlanPage(plan_controller, report_controller, appearance, actions)
        self.identify = IdentifyPage(controller, appearance, actions)
        self.budget = BudgetPage(controller, appearance, actions)
        self._of_stage: dict[Stage, Page] = {
            CONNECT: self.connect,
            PREPARE: self.prepare,
            CHECK: self.check,
            SPOTS: self.spots,
            SOURCES: self.sources,
            NIGHT: self.night,
            PLAN: self.plan,
            REPORT: self.report,
        }
        self.stack = QStackedWidget()
        self._areas: dict[Page, PageArea] = {}
        for stage, page in self._of_stage.items():
            page.setAccessibleName(tr(stage.name))
        for other in (self.identify, self.budget):
            other.setAccessibleName(tr(other.title))
        for page in self.all():
            self._areas[page] = PageArea(page)
            self.stack.addWidget(self._areas[page])

    def all(self) -> tuple[Page, ...]:
        """Every page."""
        return (*self.of_stages(), self.identify, self.budget)

    def of_stages(self) -> tuple[Page, ...]:
        """The page of each stage, in the order of the work."""
        return tuple(self._of_stage.values())

    def belongs_text(self, place: str) -> str:
        """To which page or stage an action belongs, in a sentence.

        Args:
            place: as `Page.place` names it.
        """
        for stage, shown in self._of_stage.items():
            if shown.place == place:
                return tr("It belongs to the stage “{stage}”.").format(stage=tr(stage.name))
            for page in shown.pages if isinstance(shown, PagedStage) else ():
                if page.place == place:
                    return tr("It belongs to the page “{page}” of the stage “{stage}”.").format(
                        page=tr(page.page_name), stage=tr(stage.name)
                    )
        return tr(NOT_HERE)

    @property
    def current(self) -> Page:
        """The page that is shown."""
        area = self.stack.currentWidget()
        assert isinstance(area, PageArea)
        return area.page

    def show(self, page: Page) -> None:
        """Show a page instead of the present one."""
        if self.stack.currentWidget() is not self._areas[page]:
            release_keyboard(self.stack)
        self.stack.setCurrentWidget(self._areas[page])

    def show_stage(self, stage: Stage) -> None:
        """Show the page of a stage."""
        self.show(self._of_stage[stage])

    def shows(self, *stages: Stage) -> bool:
        """Whether the page of one of these stages is shown."""
        return any(self.current is self._of_stage[stage] for stage in stages)
