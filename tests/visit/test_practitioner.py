"""Who measured: kept in the visit as stated, whatever the settings are later; a hostile file is read with care."""

from __future__ import annotations

import base64
import json
import struct
import zlib
from contextlib import closing
from pathlib import Path

import pytest

from logger.clock import ManualClock
from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.records.fact_names import PRACTITIONER
from logger.visit.records.practitioner import (
    MAX_LETTERS,
    MAX_LOGO_BYTES,
    MAX_LOGO_PIXELS,
    Practitioner,
    check_logo,
    why_not_a_line,
)
from logger.visit.storage.content_limits import MAX_TEXT_BYTES
from logger.visit.storage.salvage import salvage


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int = 2, height: int = 2, extra: bytes = b"") -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    rows = zlib.compress((b"\0" + b"\x20\x60\x20" * 2) * 2)
    return b"\x89PNG\r\n\x1a\n" + head + extra + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


STATED = Practitioner("Ünal Ağaoğlu", "חברה, Ltd", "0042", png(), "+1 555 0100", "a@example.org")


def test_it_is_read_as_it_was_stated_and_the_newest_holds(tmp_path: Path) -> None:
    with closing(VisitLog.create(tmp_path / "a.visit", ManualClock())) as log:
        assert log.practitioner.current() == Practitioner()
        log.practitioner.set(STATED)
        log.practitioner.set(Practitioner("Later"))
        log.practitioner.set(STATED)
    with closing(VisitLog.open(tmp_path / "a.visit")) as log:
        assert log.practitioner.current() == STATED
        assert len(log.facts.values_of(PRACTITIONER)) == 3


def test_the_largest_one_has_room_in_a_visit(tmp_path: Path) -> None:
    filler = MAX_LOGO_BYTES - len(png(extra=chunk(b"tEXt", b"")))
    line, logo = "🙂" * MAX_LETTERS, png(extra=chunk(b"tEXt", b"x" * filler))
    largest = Practitioner(line, line, line, logo, line, line)
    assert len(largest.logo) == MAX_LOGO_BYTES and len(largest.to_json()) < MAX_TEXT_BYTES
    with closing(VisitLog.create(tmp_path / "a.visit", ManualClock())) as log:
        log.practitioner.set(largest)
    with closing(VisitLog.open(tmp_path / "a.visit")) as log:
        assert log.practitioner.current() == largest


NO_LOGO = {
    "empty": b"",
    "text": b"no picture",
    "start only": b"\x89PNG\r\n\x1a\n",
    "cut": png()[:-5],
    "more behind it": png() + b"<script>",
    "two ends": png() + chunk(b"IEND", b""),
    "changed": png()[:40] + b"\x00" + png()[41:],
    "too wide": png(MAX_LOGO_PIXELS + 1, 1),
    "a bomb": png(30_000, 30_000),
    "no size": png(0, 2),
    "too large": png(extra=chunk(b"tEXt", b"x" * MAX_LOGO_BYTES)),
    "a length beyond its end": b"\x89PNG\r\n\x1a\n\xff\xff\xff\xffIHDR",
}


@pytest.mark.parametrize("content", NO_LOGO.values(), ids=NO_LOGO.keys())
def test_what_is_no_logo_is_refused_and_left_out(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(StillvoltError, match="The logo cannot be used"):
        check_logo(content)
    text = json.dumps({"name": "A. Meyer", "logo": base64.b64encode(content).decode()})
    assert Practitioner.from_json(text) == Practitioner("A. Meyer")


@pytest.mark.parametrize(
    "text",
    ["", "[]", "7", "null", "{", "[" * 100_000, '{"name": 7, "firm": null, "licence": ["x"], "logo": 3}',
     json.dumps({"name": "x" * 10_000, "email": 3, "firm": "a\x1bb", "licence": "\u202eevil", "logo": "!"}),
     json.dumps({"name": "two\nlines", "telephone": "5\n5", "logo": "é"})],
)  # fmt: skip
def test_a_fact_that_no_window_wrote_states_nothing(text: str) -> None:
    assert Practitioner.from_json(text) == Practitioner()


@pytest.mark.parametrize("text", ["", "0042", "🙂", "עברית", "<b>", "a, b; c", "x" * MAX_LETTERS])
def test_a_line_may_look_odd(text: str) -> None:
    assert not why_not_a_line(text)


@pytest.mark.parametrize("text", ["x" * 10_000, "a\tb", "a\nb", "a\x00b", "\u202e", "\ufeffa", "a\u2066b"])
def test_a_line_that_steers_or_is_too_long_is_explained(text: str) -> None:
    assert why_not_a_line(text).endswith(".")


def test_a_salvaged_visit_names_the_same(tmp_path: Path) -> None:
    with closing(VisitLog.create(tmp_path / "a.visit", ManualClock())) as log:
        log.practitioner.set(STATED)
    salvage(tmp_path / "a.visit", tmp_path / "b.visit")
    with closing(VisitLog.open(tmp_path / "b.visit")) as log:
        assert log.practitioner.current() == STATED
