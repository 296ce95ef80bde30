"""No character from a visit steers a terminal, hides, or turns round what is beside it."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest

from logger.diagnostics import log_exception, log_path
from logger.plain_text import VisibleTextStream, isolated, one_line, visible, without_folders

JOINERS = {"\u200b", "\u200c", "\u200d", "\u2060", "\u00ad"}
"""Of the characters that are not seen, those that scripts and signs are written with; they turn nothing round."""

TURNING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


def test_every_control_and_every_character_of_direction_becomes_an_escape() -> None:
    for code in range(sys.maxunicode + 1):
        character = chr(code)
        steers = (unicodedata.category(character) == "Cc" and character not in "\t\n") or (
            unicodedata.bidirectional(character) in TURNING or character in "\u200e\u200f\u061c\u2028\u2029"
        )
        if steers:
            assert visible(character).isascii() and visible(character).isprintable(), hex(code)


def test_what_people_write_stays() -> None:
    text = "Küche – „Bett“ 枕 👩‍🔧 שלום\tdeux\nlignes"
    assert visible(text) == text


def test_one_line_is_one_line() -> None:
    assert one_line("Bed\nNothing is damaged.\r\n\u2028x") == "Bed Nothing is damaged.\\r \\u2028x"


def test_a_name_from_right_to_left_is_isolated_from_the_value_beside_it() -> None:
    assert isolated("מיטה ישנה: 0.27 V") == "\u2068מיטה ישנה\u2069: 0.27 V"
    assert isolated("Bed: 0.27 V") == "Bed: 0.27 V"
    assert isolated("\u202eBed: 0.27 V") == "\\u202eBed: 0.27 V"


def test_the_stream_escapes_what_its_code_page_lacks_too() -> None:
    buffer = io.BytesIO()
    stream = VisibleTextStream(buffer, "ascii", "backslashreplace")
    assert stream.write("\x1b[2J Küche\n") == 11
    stream.flush()
    assert buffer.getvalue() == b"\\x1b[2J K\\xfcche\n"


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252"])
def test_an_error_that_quotes_a_file_name_cannot_steer_the_terminal(tmp_path: Path, encoding: str) -> None:
    name = "\x1b]0;title\x07\u202etxt.visit\nNothing is damaged."
    done = subprocess.run(
        [sys.executable, "-m", "logger", "verify", name],
        cwd=tmp_path,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONPATH": str(Path(__file__).parents[1])},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 1
    shown = done.stderr.decode(encoding)
    assert shown.count("\n") == 1
    assert all(c.isprintable() for c in shown.rstrip("\r\n"))
    assert "\u202e" not in shown


def test_the_diagnostic_log_shows_what_it_quotes() -> None:
    try:
        raise ValueError("\x1b[2J\u202e")
    except ValueError:
        log_exception("reading a name")
    text = log_path().read_text(encoding="utf-8")
    assert "\\x1b[2J\\u202e" in text
    assert "\x1b" not in text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (
            "The visit log /home/anna/My visits/w1.svlt is now /mnt/b c/w2.svlt.",
            "The visit log w1.svlt is now w2.svlt.",
        ),
        (r"C:\Users\Anna\w1.svlt is gone", "w1.svlt is gone"),
        (r"kept in \\server\share\a b\w1.svlt, and", "kept in w1.svlt, and"),
        (
            "sim://house?scene=/home/anna/x.toml&control=%2Ftmp%2Fanna%2Fctl&seed=3",
            "sim://house?scene=x.toml&control=ctl&seed=3",
        ),
        ("spy:///home/anna/tty?raw", "spy://tty?raw"),
    ],
)
def test_no_folder_leaves_with_a_path(text: str, shown: str) -> None:
    assert without_folders(text) == shown


@pytest.mark.parametrize(
    "text",
    ["/dev/serial/by-id/usb-0", "0.1 V/m at 50/60 Hz, on / off", "socket://10.0.0.1:23/", "http://a.b/c/d"],
)
def test_what_is_no_folder_stays(text: str) -> None:
    assert without_folders(text) == text
