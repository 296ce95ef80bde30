"""What the report of the visit will contain, and what is missing: a list for the stage Report."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.model.wording import counted
from logger.errors import StillvoltError
from logger.metrology.check_words import check_name, lapse_text
from logger.metrology.checks import CLOSING_CHECKS, REQUIRED_CHECKS
from logger.metrology.rounding import grouped
from logger.name_list import in_turn, listed
from logger.report.archive.entry import ArchiveEntry, read_entry
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr, tr_n
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.results.check_review import not_closed


@dataclass(frozen=True, slots=True)
class ReportContent:
    """One thing that a report contains."""

    name: str
    amount: str
    """How much of it there is, in a few words."""
    missing: str = ""
    """What is missing and which key leads there; empty when nothing is."""
    is_expected: bool = True
    """False for what a visit may well do without."""
    not_certain: str = ""
    """What is not certain yet in it, in whole sentences; empty where nothing is in doubt."""
    hint: str = ""
    """What can be done about it that nobody has to do, in a sentence; empty where there is nothing."""
    action_id: str = ""
    """The action that leads there; empty where none does."""


class ReportContents:
    """Lists what the report will contain.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self._controller = controller
        self._entry: tuple[object, ArchiveEntry | None] = (None, None)
        """The visit's entry in the archive, and what it was read for."""

    def all(self) -> list[ReportContent]:
        """Everything in the order of the report, with what is missing."""
        entry = self._archive_entry()
        has_sweep, has_night = entry is not None and entry.has_sweep, entry is not None and entry.has_night
        return [
            self._setup(),
            self._checks(),
            self._round(EVERYTHING_ON, tr("Everything on"), tr("Take readings on the stage Spots")),
            self._round(EVERYTHING_OFF, tr("Everything off"), tr("Begin that round on the stage Spots")),
            self._causes(has_sweep),
            self._tonight(),
            _present_or_missing(has_night, tr("Night"), tr("recorded"), tr("Record a night on the stage Night")),
            *self._without_which_it_can_do(),
        ]  # fmt: skip

    def _archive_entry(self) -> ArchiveEntry | None:
        """What the archive reads from this visit; read again only when something differs."""
        snapshot = self._controller.snapshot
        ended = snapshot.live is not None and snapshot.live.ended
        key = (len(snapshot.readings), snapshot.live.run_id if snapshot.live else 0, ended)
        if self._entry[0] != key:
            try:
                self._entry = (key, read_entry(self._controller.log.path))
            except StillvoltError:
                self._entry = (key, None)
        return self._entry[1]

    def _setup(self) -> ReportContent:
        missing = self._controller.setup.stated.missing()
        if not missing:
            return ReportContent(tr("Set-up"), tr("stated"))
        return ReportContent(
            tr("Set-up"),
            tr_n("{n} not entered", "{n} not entered", len(missing)).format(n=len(missing)),
            tr("Enter it on the stage Prepare"),
        )

    def _checks(self) -> ReportContent:
        passed, total = self._controller.checks.passed_count(), len(REQUIRED_CHECKS)
        checks = self._controller.checks
        missing = []
        if in_doubt := checks.in_doubt():
            missing.append(tr("in doubt: {names}").format(names=listed(list(map(check_name, in_doubt)))))
        if failed := checks.failed():
            missing.append(tr("failed: {names}").format(names=listed(list(map(check_name, failed)))))
        for lapse, count in Counter(checks.lapses()).items():
            text = tr_n("{why} ({n} check)", "{why} ({n} checks)", count)
            missing.append(text.format(why=lapse_text(lapse), n=count))
        if passed < total:
            missing.append(tr("Do the checks on the stage Check"))
        amount = tr("{passed} of {total} passed").format(passed=passed, total=total)
        return ReportContent(tr("Checks"), amount, in_turn(missing))

    def _closing_check(self) -> list[ReportContent]:
        """Whether the checks were done once more after the last reading; nothing before there is one."""
        snapshot = self._controller.snapshot
        taken_ns = [r.utc_ns for r in snapshot.readings if r.void_reason is None]
        if not taken_ns or not snapshot.checks:
            return []
        undone = not_closed(snapshot.checks, max(taken_ns))
        name = tr("Closing check")
        if not undone:
            return [ReportContent(name, tr("done after the last reading"), is_expected=False)]
        text = tr("Do once more, now that all is read: {checks}. The report says that it was not done.")
        amount = tr("none") if len(undone) == len(CLOSING_CHECKS) else tr("in part")
        hint = text.format(checks=listed(list(map(check_name, undone))))
        return [ReportContent(name, amount, is_expected=False, hint=hint, action_id="stage.check")]

    def _round(self, condition: str, name: str, missing: str) -> ReportContent:
        spots, read = (
            len(self._controller.route.indoor_spots()),
            self._controller.readings.count_read(condition),
        )
        if spots and read == spots:
            return ReportContent(name, tr_n("all {n} spot", "all {n} spots", spots).format(n=grouped(spots)))
        amount = tr_n("{read} of {n} spot", "{read} of {n} spots", spots) if spots else tr("no spot")
        return ReportContent(name, amount.format(read=read, n=grouped(spots)), missing)

    def _causes(self, has_sweep: bool) -> ReportContent:
        named = self._controller.snapshot.named_step_count()
        steps = tr_n("{n} step named: what was switched", "{n} steps named: what was switched", named).format(
            n=grouped(named)
        )
        found = ([steps] if named else []) + ([tr("breakers read one by one")] if has_sweep else [])
        missing = "" if found else tr("Label steps or read breakers on the stage Sources")
        return ReportContent(
            tr("Which source gives how much"),
            listed(found) or tr("none"),
            missing,
            not_certain="" if self._controller.sweep_is_computing else self._controller.not_certain_yet,
        )

    def _tonight(self) -> ReportContent:
        state, name = self._controller.sweep_state, tr("Tonight's list")
        if self._controller.sweep_is_computing:
            return ReportContent(name, tr("being worked out"), tr("It takes a few seconds"))
        if state is PlanState.CONFIRMED:
            return ReportContent(name, tr("confirmed by a reading"))
        if state is PlanState.CONTRADICTORY:
            return ReportContent(name, tr("none"), tr("Take the readings again that contradict each other"))
        if state is not None:
            return ReportContent(
                name, tr("not confirmed"), tr("Take the readings that the stage Sources asks for")
            )
        return ReportContent(name, tr("none"), tr("Read the breakers on the stage Sources"))

    def _without_which_it_can_do(self) -> list[ReportContent]:
        readings = self._controller.snapshot.readings
        found = []
        if not self._controller.log.practitioner.current().name:
            found.append(
                ReportContent(
                    tr("Practitioner"),
                    tr("not entered"),
                    is_expected=False,
                    hint=tr("The button “Your name and firm…” opens the settings."),
                    action_id="report.practitioner",
                )
            )
        found += self._closing_check()
        outside = sum(r.condition == OUTSIDE_WALK and r.void_reason is None for r in readings)
        if outside:
            found.append(ReportContent(tr("Outside walk"), counted(outside, "point"), is_expected=False))
        voided = sum(r.void_reason is not None for r in readings)
        if voided:
            found.append(
                ReportContent(tr("Voided, with reasons"), counted(voided, "reading"), is_expected=False)
            )
        return found


def _present_or_missing(present: bool, name: str, amount: str, missing: str) -> ReportContent:
    return ReportContent(name, amount) if present else ReportContent(name, tr("none"), missing)
