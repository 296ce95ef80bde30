"""`stillvolt lines` and the recorder agree on each line of a meter's stream."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.meter.reader import Arrival
from logger.recording.lines_as_recorded import MAX_REST_BYTES, RATE_HZ, lines_as_recorded
from logger.recording.recorder import Recorder
from logger.visit.storage.run_writer import Batch, Heartbeat
from scripts.bench.damaged_lines import stream

STEADY = [f"0.27{n % 4} V AC" for n in range(40)]


class Log:
    """What a recorder has written."""

    stop_requested_by = None

    def __init__(self) -> None:
        self.lines: list[tuple[str, float | None]] = []

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        self.lines += [(str(status), volts) for _, _, status, volts, _ in batch.lines]

    def end(self, utc_ns: int, t_ns: int, reason: str) -> None:
        pass


def recorded(data: bytes) -> list[tuple[str, float | None]]:
    log, clock = Log(), ManualClock()
    recorder = Recorder(log, clock, clock.steady_ns(), lambda _: None)
    for line in data.splitlines():
        clock.advance_ns(NS_PER_S // RATE_HZ)
        recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), line + b"\r\n"))
        recorder.write()
    recorder.end("the end")
    return log.lines


def printed(capsys: pytest.CaptureFixture[str], path: Path) -> list[dict[str, object]]:
    assert main(["lines", str(path)]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


@pytest.mark.parametrize("form", ["0.273 V", "273,1 mV, 0,601 V by range", "+2.73100E-01"])
def test_samples_are_those_of_the_recorder(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = b"".join(line.raw + b"\n" for line in stream(form, 26112896, 0.1, 60))
    kept = recorded(data)
    assert [(str(line.status), line.volts) for line in lines_as_recorded([data[:777], data[777:]])] == kept
    (tmp_path / "stream.txt").write_bytes(data)
    samples = [
        row["volts"] if row["status"] == "volts" and not ("held" in row or "refused" in row) else None
        for row in printed(capsys, tmp_path / "stream.txt")
    ]
    assert samples == [volts if status == "volts" else None for status, volts in kept]
    assert samples.count(None) > 20


def test_what_the_recorder_refuses_or_holds_is_marked_and_its_notices_are_told_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "stream.txt"
    low = [f"{line} LO BAT" for line in STEADY]
    path.write_text(
        "\n".join([*STEADY, "0.73 V AC", *STEADY, "0.273 V AC HOLD", *low, *["273.1 MV AC"] * 20, ""])
    )
    assert main(["lines", str(path)]) == 0
    out, err = capsys.readouterr()
    rows = [json.loads(line) for line in out.splitlines()]
    assert rows[len(STEADY)] == {"status": "unreadable", "volts": None}
    assert rows[2 * len(STEADY) + 1]["held"]
    assert rows[-1] == {"status": "unreadable", "volts": None}
    assert rows[-25] == {"status": "volts", "volts": pytest.approx(0.273, abs=0.005)}
    assert err.count("not to be trusted") == 1 and err.count("megavolts") == 1


def test_bytes_without_a_line_end_are_taken_in_parts_and_a_last_whole_line_counts() -> None:
    noise = b"1" * (2 * MAX_REST_BYTES)
    assert {line.status for line in lines_as_recorded([noise, noise])} == {"unreadable"}
    assert list(lines_as_recorded(["\n".join(STEADY).encode()]))[-1].is_sample
    assert not list(lines_as_recorded(["\n".join([*STEADY, "0.27"]).encode()]))[-1].is_sample
