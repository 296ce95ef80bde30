"""A SCPI conversation over a pseudo-terminal with an instrument simulator from the registry.

Sources: the packages `sinstruments` (simulator) and `scpi-protocol` (command forms of SCPI-1999 volume 1, 6.2.1);
SCPI-1999 volume 1, 7.2.1.4: 9.9E37 is infinity.
"""

from __future__ import annotations

import queue
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.clock import SystemClock
from logger.meter.identification import KNOWN_QUERIES, Certainty, IdentifiedMeter, identify
from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.port import PortSettings
from logger.meter.reader import Arrival, PortItem, PortReader
from logger.meter.splitter import LineSplitter

pytest.importorskip("sinstruments", reason="an extra of the development set-up")
pytest.importorskip("scpi", reason="an extra of the development set-up")
WAIT_S = 20.0


@pytest.fixture
def instrument(tmp_path: Path) -> Iterator[str]:
    path = tmp_path / "instrument"
    script = Path(__file__).parents[1] / "support" / "scpi_instrument.py"
    process = subprocess.Popen([sys.executable, str(script), str(path)], stderr=subprocess.PIPE)
    until = time.monotonic() + WAIT_S
    while not path.is_symlink():
        assert process.poll() is None, process.stderr and process.stderr.read()
        assert time.monotonic() < until
        time.sleep(0.02)
    yield str(path)
    process.kill()
    process.communicate()


def test_identified_and_polled(instrument: str) -> None:
    found = identify(PortSettings(instrument), SystemClock(), queries=KNOWN_QUERIES)
    assert isinstance(found, IdentifiedMeter)
    assert found.identity == "INVENTED,BENCH-1,0001,1.0"
    assert found.settings.query == "MEAS:VOLT:AC?"
    assert found.certainty is Certainty.SURE

    items: queue.SimpleQueue[PortItem] = queue.SimpleQueue()
    reader = PortReader(found.settings, SystemClock(), items)
    reader.open()
    reader.start()
    splitter = LineSplitter()
    readings: list[LineReading] = []
    try:
        while len(readings) < 8:
            item = items.get(timeout=WAIT_S)
            assert isinstance(item, Arrival)
            readings += [read_line(line) for line, whole in splitter.feed(item.data) if whole]
    finally:
        reader.stop()
    assert {reading.volts for reading in readings} == {0.2731, 0.2742, 0.2753, None}
    assert sum(reading.status is LineStatus.OVERLOAD for reading in readings) == 2
