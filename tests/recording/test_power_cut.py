"""A short version of scripts/bench/power_cut.py, where it is said how a power cut is simulated."""

from __future__ import annotations

import pytest

pytest.importorskip("apsw")
from scripts.bench.power_cut import cuts


def test_after_a_power_cut_the_log_opens_whole_and_lacks_at_most_two_seconds():
    found = cuts(seconds=90.0, rate_hz=10.0, count=10, seed=7)
    assert max(cut.lost_s for cut in found) <= 2.0
    assert max(cut.unsure_bytes for cut in found) > 10_000, "there was something to lose"


def test_a_recorder_that_syncs_too_rarely_would_be_caught(monkeypatch):
    monkeypatch.setattr("logger.visit.storage.run_writer.SYNC_EVERY_NS", 30 * 10**9)
    found = cuts(seconds=45.0, rate_hz=10.0, count=10, seed=1)
    assert max(cut.lost_s for cut in found) > 2.0
