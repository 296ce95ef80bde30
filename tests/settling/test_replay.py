"""Traces in files."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.settling.replay import read_trace, replay


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_a_trace_is_read(tmp_path: Path) -> None:
    path = written(tmp_path / "a.csv", "time_s,volts\n0,0.27\n\n0.4, 0.28\n0.8,inf\n1.2,nan\n")
    times, volts, numbers = read_trace(path)
    assert numbers == ["0.27", " 0.28", "inf", "nan"]
    assert times == [0.0, 0.4, 0.8, 1.2]
    assert volts[:3] == [0.27, 0.28, float("inf")]


def test_a_byte_order_mark_and_more_columns_do_no_harm(tmp_path: Path) -> None:
    path = written(tmp_path / "a.csv", "\ufefftime_s,volts,note\n0,0.27,x\n")
    assert read_trace(path) == ([0.0], [0.27], ["0.27"])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("t,v\n0,1\n", ["header time_s,volts"]),
        ("", ["header time_s,volts"]),
        ("time_s,volts\n0,1\n0.4\n", ["line 3", "0.4"]),
        ("time_s,volts\n0,one\n", ["line 2", "one"]),
    ],
)
def test_bad_files_are_named_with_the_line(tmp_path: Path, text: str, words: list[str]) -> None:
    path = written(tmp_path / "a.csv", text)
    with pytest.raises(StillvoltError) as raised:
        read_trace(path)
    assert all(word in str(raised.value) for word in ["a.csv", *words])


def test_a_missing_file_and_one_that_is_no_text(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00\x81")
    for name in ("none.csv", "b.csv"):
        with pytest.raises(StillvoltError, match=name):
            read_trace(tmp_path / name)


def test_events_come_in_the_order_in_which_they_became_known() -> None:
    volts = [0.3] * 50 + [1.3] * 50 + [0.3, 2.0, 2.2, 1.9] * 3 + [0.3] * 50
    events = replay([i * 0.4 for i in range(len(volts))], volts)
    known = [event.known_at_s for event in events]
    assert known == sorted(known) and len(known) > 4
