"""The job without a screen, as the start script does it where there is no display."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger.visit import VisitLog
from scripts import demo_headless


def test_the_demo_without_a_screen_records_and_ends_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.argv", ["demo_headless", str(tmp_path)])
    monkeypatch.setattr(demo_headless, "LONGEST_S", 0.3)
    demo_headless.main()
    log = VisitLog.open(tmp_path / "first minute.visit")
    (run,) = log.runs.all()
    live = log.recorder.live()
    log.close()
    assert run.simulated and run.end_reason == "stopped"
    assert live.count_volts > 0
    assert (tmp_path / "csv" / "samples.csv").stat().st_size > 0
