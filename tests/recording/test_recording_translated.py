"""What the recorder keeps is English whatever the language is; what is shown goes through the translation whole."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from logger import translation
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.recording.agreement_watch import describe
from logger.recording.recorder_lock import sole_recorder
from logger.recording.registry import RunningRecorder, format_running, stop
from logger.recording.restart import Fault
from logger.recording.trace_file import read_trace_file
from logger.recording.trace_import import import_trace, read_began
from logger.recording.watch.disk_space import warning
from logger.recording.watch.power import Power, PowerWatch
from logger.recording.watch.set_back import clock_notice
from logger.recording.watch.suspend import SuspendWatch
from logger.settling.events import Disagreement, State
from logger.visit import VisitLog
from tests.support.other_language import OPENING, OtherLanguage, unspoken

BEGAN = read_began("2026-01-05T20:15:00+01:00")


@pytest.fixture
def spoken(monkeypatch):
    """A made-up language with a decimal comma."""
    monkeypatch.setattr(translation, "_chosen", [("de", OtherLanguage())])


def test_what_is_kept_is_english(spoken, log, recording):
    states = iter(
        [Power(False, 55.0, 8000.0), Power(True, 50.0), Power(False, 15.0), Power(False, 4.0, 600.0)]
    )
    power, clock = PowerWatch(lambda: next(states)), ManualClock()
    suspend = SuspendWatch(clock)
    clock.sleep_ns(7000 * NS_PER_S)
    clock.set_utc_ns(clock.utc_ns() + 5_500_000_000)
    recording.samples([0.3] * 10)
    kept = [
        describe(Disagreement(State.ALTERNATING, (0.05, 1.234))),
        describe(Disagreement(State.ALTERNATING, (0.001, 2.0, 3.0))),
        describe(Disagreement(State.REFUSED, refused_share=0.36)),
        warning(5000.0),
        Fault("SIGBUS", Path("house.visit"), 1.0).message("23:10:05", "23:10:07"),
        *(notice.message for time_s in range(0, 40, 10) for notice in power.poll(time_s)),
        *(notice.message for notice in suspend.poll()),
        *(clock_notice(log, "", day * 86_400 * NS_PER_S).message for day in (0, 1)),
    ]
    assert len(kept) == 15 and not [text for text in kept if OPENING in text]
    assert "0.050 V and 1.234 V" in kept[0] and "by 5.5 s" in kept[-3]


def test_what_an_import_keeps_is_english_and_what_it_says_is_not(spoken, tmp_path):
    trace = tmp_path / "trace.csv"
    trace.write_text("time_s,volts,other\n" + "".join(f"{i * 0.4:.1f},0.25{i % 3},\n" for i in range(9)))
    done = import_trace(trace, tmp_path / "house.visit", BEGAN)
    assert [word for text in done.messages if "Unit assumed" not in text for word in unspoken(text)] == []
    with closing(VisitLog.open(tmp_path / "house.visit")) as log:
        assert not [notice for notice in log.notices.after(0) if OPENING in notice.message]
        assert OPENING not in log.runs.all()[0].end_reason


@pytest.mark.parametrize(
    "content",
    [
        "",
        "a,b\n",
        "time_s,volts\n",
        "time_s,volts\n1",
        "time_s,volts\n1\n",
        "time_s,volts\n1,-2\n",
        "time_s,volts\n1,nan\n",
        "time_s,volts\n1,1\n0,1\n",
        "time_s,volts\n1,1\n1,1\n",
        "time_s,volts,unit\n1,1,A\n",
        "time_s,volts\n1,2000\n",
    ],
)
def test_each_refusal_of_a_trace_goes_through_the_translation(spoken, tmp_path, content):
    trace = tmp_path / "1.csv"
    trace.write_text(content)
    with pytest.raises(StillvoltError) as refused:
        read_trace_file(trace)
    assert unspoken(str(refused.value).replace(str(trace), "")) == []


def test_recorders_at_work_are_told_in_another_language(spoken, tmp_path):
    for state in (None, "port lost", *State):
        one = RunningRecorder(Path("/1"), "sim://1", 0, 5, 1204 if state else None, state)
        assert unspoken(format_running(one, 9_000 * NS_PER_S).replace("sim://1", "")) == []
        assert one.to_json()["state"] == state
    visit = tmp_path / "1"
    with (
        sole_recorder(visit),
        pytest.raises(StillvoltError) as refused,
        sole_recorder(visit, wait=lambda s: None),
    ):
        pass
    assert unspoken(str(refused.value).replace(str(visit), "")) == []
    with pytest.raises(StillvoltError) as refused:
        stop(visit)
    assert unspoken(str(refused.value).replace(str(visit), "")) == []
