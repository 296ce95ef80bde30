"""The tones: short, different, without a click; and no sound system is no error."""

from __future__ import annotations

import itertools
import wave
from pathlib import Path

import numpy as np
import pytest

from gui.sound import sounds, speech
from gui.sound.sounds import RATE_HZ, Sounds, Tone, samples, write_wav


@pytest.mark.parametrize("tone", Tone)
def test_short_and_without_a_click(tone: Tone, tmp_path: Path) -> None:
    write_wav(tone, tmp_path / "tone.wav")
    with wave.open(str(tmp_path / "tone.wav")) as read:
        assert (read.getframerate(), read.getnchannels(), read.getsampwidth()) == (RATE_HZ, 1, 2)
        heard = np.frombuffer(read.readframes(read.getnframes()), "<i2")
    assert 0.05 < len(heard) / RATE_HZ < 1.0
    assert abs(int(heard[0])) < 100 and abs(int(heard[-1])) < 100
    assert 0.2 * 32767 < np.abs(heard).max() < 0.5 * 32767


def test_all_differ() -> None:
    for one, other in itertools.combinations(Tone, 2):
        assert samples(one).tolist() != samples(other).tolist()


def test_without_a_player_the_system_beeps_for_settled_and_lost_only(monkeypatch: pytest.MonkeyPatch) -> None:
    beeps: list[Tone] = []
    monkeypatch.setattr(sounds.sys, "platform", "linux")
    monkeypatch.setattr(sounds.shutil, "which", lambda _: None)
    for tone in Tone:
        monkeypatch.setattr(sounds.QApplication, "beep", lambda tone=tone: beeps.append(tone))
        Sounds().play(tone)
    assert beeps == [Tone.SETTLED, Tone.LOST]


def test_the_systems_player_gets_the_file_and_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[tuple[str, list[str]]] = []
    monkeypatch.setattr(sounds.shutil, "which", lambda name: "/usr/bin/aplay" if name == "aplay" else None)
    monkeypatch.setattr(sounds.QProcess, "startDetached", lambda *words: started.append(words))
    player = Sounds()
    player.play(Tone.TAKEN)
    ((program, words),) = started
    assert program == "aplay" and words[0] == "-q"
    assert Path(words[1]).name == "taken.wav" and Path(words[1]).exists()
    player.on = False
    player.play(Tone.TAKEN)
    assert len(started) == 1


def test_speech_goes_to_the_systems_voice_as_one_word(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speech.sys, "platform", "linux")
    monkeypatch.setattr(speech.shutil, "which", lambda name: name if name == "espeak-ng" else None)
    assert speech.command("-v next; Bed") == ("espeak-ng", "--", "-v next; Bed")
    monkeypatch.setattr(speech.shutil, "which", lambda _: None)
    assert speech.command("Bed") is None
    monkeypatch.setattr(speech.sys, "platform", "win32")
    words = speech.command("Anna's bed")
    assert words is not None and "Speak('Anna''s bed')" in words[-1]


def test_without_a_voice_nothing_is_started(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[object] = []
    monkeypatch.setattr(speech.sys, "platform", "linux")
    monkeypatch.setattr(speech.shutil, "which", lambda _: None)
    monkeypatch.setattr(speech.QProcess, "startDetached", lambda *words: started.append(words))
    speech.speak("Bed")
    assert started == []


def test_speech_is_off_with_the_sounds(monkeypatch: pytest.MonkeyPatch) -> None:
    message: list[str] = []
    monkeypatch.setattr(sounds, "speak", message.append)
    player = Sounds()
    player.speak("one")
    player.on = False
    player.speak("two")
    assert message == ["one"]
