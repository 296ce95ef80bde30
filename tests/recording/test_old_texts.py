"""Texts of recorders of earlier versions go, but none that is open, another user's or a link."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from subprocess import PIPE

import psutil
import pytest

from logger.recording.old_texts import remove_old_texts


def old_text(folder: Path, name: str) -> Path:
    path = folder / f"stillvolt-recorder-{name}.txt"
    path.write_text("Recording sim:// into a.visit.\n", encoding="utf-8")
    return path


@contextmanager
def at_work(text: Path) -> Iterator[None]:
    """A process that looks like a recorder and has the text open."""
    words = [sys.executable, "-c", "print('open', flush=True); input()", "record"]
    with text.open("a", encoding="utf-8") as held:
        process = subprocess.Popen(words, stdin=PIPE, stdout=PIPE, stderr=held)
    assert process.stdout is not None
    assert process.stdout.readline().strip() == b"open"
    yield
    process.communicate(b"\n")


def test_only_texts_that_no_recorder_has_open_are_removed(tmp_path: Path) -> None:
    left, held = old_text(tmp_path, "left"), old_text(tmp_path, "held")
    others = [tmp_path / "stillvolt-recorder.txt", tmp_path / "stillvolt-recorder-a.txt.bak"]
    for path in others:
        path.write_text("not one of them", encoding="utf-8")
    with at_work(held):
        remove_old_texts(tmp_path)
    assert not left.exists()
    assert held.exists()
    assert all(path.exists() for path in others)
    remove_old_texts(tmp_path)
    assert not held.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no links without rights of their own")
def test_links_are_left_alone_and_so_is_what_they_lead_to(tmp_path: Path) -> None:
    measured = tmp_path / "measured.csv"
    measured.write_text("0,0.3", encoding="utf-8")
    symbolic, hard = tmp_path / "stillvolt-recorder-s.txt", tmp_path / "stillvolt-recorder-h.txt"
    symbolic.symlink_to(measured)
    hard.hardlink_to(measured)
    remove_old_texts(tmp_path)
    assert symbolic.is_symlink()
    assert hard.exists()
    assert measured.read_text(encoding="utf-8") == "0,0.3"


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="Windows has no user ids")
def test_another_users_texts_are_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, own_id = old_text(tmp_path, "other"), os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: own_id + 1)
    remove_old_texts(tmp_path)
    assert path.exists()


def test_where_open_files_cannot_be_listed_nothing_is_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_text(tmp_path, "left")

    def refuse(_: psutil.Process) -> None:
        raise psutil.AccessDenied

    monkeypatch.setattr(psutil.Process, "open_files", refuse)
    with at_work(path):
        remove_old_texts(tmp_path)
    assert path.exists()
