"""`stillvolt plan` enters decisions on remedies as the window does, and refuses what does not fit with a sentence."""

from __future__ import annotations

import json

import pytest

from logger.cli.main import main
from logger.clock import ManualClock
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyDecision
from tests.plan.planned_home import PlannedHome


@pytest.fixture
def visit(tmp_path):
    path = tmp_path / "home.visit"
    clock = ManualClock()
    log = VisitLog.create(path, clock)
    PlannedHome(log, clock).sweep()
    log.close()
    return path


def ids(visit, capsys):
    """The ids of the remedies of the plan, by their names."""
    assert main(["plan", str(visit), "--json"]) in (0, None)
    return {one["name"]: one["id"] for one in json.loads(capsys.readouterr().out)["remedies"]}


def kept(visit):
    log = VisitLog.open(visit)
    try:
        return log.remedies.all()
    finally:
        log.close()


def test_a_remedy_is_planned_done_undone_and_not_wanted_by_its_id(visit, capsys):
    code = ids(visit, capsys)["Lamp: Unplug at night"]
    for option, decision in (
        ("--plan", RemedyDecision.PLANNED),
        ("--done", RemedyDecision.DONE),
        ("--undone", RemedyDecision.UNDONE),
        ("--not-wanted", RemedyDecision.NOT_WANTED),
    ):
        extra = ["--on", "2026-01-01", "--by", "the household"] if option == "--done" else []
        assert main(["plan", str(visit), option, code, *extra]) in (0, None)
        assert "Lamp: Unplug at night" in capsys.readouterr().out
        (remedy,) = kept(visit)
        assert remedy.decision is decision
    done = next(entry for entry in remedy.entries if entry.decision is RemedyDecision.DONE)
    assert (done.done_on, done.by_whom) == ("2026-01-01", "the household")
    assert main(["plan", str(visit)]) in (0, None)
    assert f"({code})" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--done", "no-such-thing"], "has no remedy"),
        (["--done", "\x1b[2J'; DROP TABLE remedy"], "has no remedy"),
        (["--done", "LAMP", "--on", "yesterday"], "is no day"),
        (["--done", "LAMP", "--on", "2999-01-01"], "yet to come"),
        (["--plan", "LAMP", "--on", "2026-01-01"], "done or undone"),
        (["--undone", "LAMP"], "neither planned nor done"),
        (["--done", "LAMP", "--by", "x" * 100_000], ""),
        (["--on", "2026-01-01"], "belong to a decision"),
    ],
)
def test_what_does_not_fit_is_refused_with_a_sentence_and_nothing_is_entered(visit, capsys, options, said):
    lamp = ids(visit, capsys)["Lamp: Unplug at night"]
    options = [lamp if option == "LAMP" else option for option in options]
    assert main(["plan", str(visit), *options]) not in (0, None)
    refused = capsys.readouterr().err
    assert said in refused and "Traceback" not in refused and "\x1b" not in refused
    assert kept(visit) == []
