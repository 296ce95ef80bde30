"""The computer is kept awake, or it is said once that it cannot be; neither costs the recording."""

from __future__ import annotations

import sys

import pytest
import wakepy

from logger.recording.watch.keep_awake import CANNOT_KEEP_AWAKE, kept_awake


@pytest.fixture
def told():
    return []


def test_a_system_that_does_it_says_nothing(told, monkeypatch):
    monkeypatch.setenv("WAKEPY_FAKE_SUCCESS", "1")
    with kept_awake(told.append):
        assert told == []
    assert told == []


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems do it without a desktop")
def test_a_system_that_does_not_is_told_once_and_work_goes_on(told, monkeypatch):
    monkeypatch.delenv("WAKEPY_FAKE_SUCCESS", raising=False)
    monkeypatch.delenv("DBUS_SESSION_BUS_ADDRESS", raising=False)  # no desktop to ask
    with kept_awake(told.append):
        pass
    assert told == [CANNOT_KEEP_AWAKE]


@pytest.mark.parametrize("at", ["enter", "exit"])
def test_a_library_that_fails_costs_nothing(told, monkeypatch, at):
    class Mode:
        active = True

        def __enter__(self):
            if at == "enter":
                raise RuntimeError
            return self

        def __exit__(self, *_):
            raise RuntimeError

    monkeypatch.setattr(wakepy.keep, "running", lambda **_: Mode())
    with kept_awake(told.append):
        pass
    assert told == ([CANNOT_KEEP_AWAKE] if at == "enter" else [])


def test_what_ends_the_recording_is_not_swallowed(told, monkeypatch):
    monkeypatch.setenv("WAKEPY_FAKE_SUCCESS", "1")
    with pytest.raises(KeyError), kept_awake(told.append):
        raise KeyError
