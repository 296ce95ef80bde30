"""The tones: short, different, without a click; and no sound system is no error."""

from __future__ import annotations

import itertools
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest

from gui.sound import sounds, speech
from gui.sound.sounds import RATE_HZ, Sounds, Tone, samples, write_wav
from logger.translation import in_language


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
    assert speech.command("-v next; Bed", "de") == ("espeak-ng", "-v", "de", "--", "-v next; Bed")
    monkeypatch.setattr(speech.shutil, "which", lambda _: None)
    assert speech.command("Bed", "en") is None
    monkeypatch.setattr(speech.sys, "platform", "win32")
    words = speech.command("Anna's bed", "de")
    assert words is not None and "Speak('Anna''s bed')" in words[-1] and "-eq 'de'" in words[-1]
    assert "$$" not in words[-1]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no shell of Unix")
@pytest.mark.parametrize(
    ("program", "voices", "said"),
    [
        ("spd-say", "NAME LANGUAGE VARIANT\\nGerman de none\\nEnglish en-GB none", ["-l", "de"]),
        ("spd-say", "NAME LANGUAGE VARIANT\\nEnglish en-GB none\\nDenise den none", None),
        (
            "say",
            "Fred en_US # Hello\\nEddy (German) de_DE # Hallo\\nZoe de_DE # Hallo",
            ["-v", "Eddy (German)"],
        ),
        ("say", "Fred en_US # Hello, de_DE # is one\\nAnna da_DK # Hej", None),
    ],
)
def test_a_voice_of_another_language_says_nothing(
    program: str, voices: str, said: list[str] | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard = tmp_path / "heard"
    fake = tmp_path / program
    fake.write_text(
        f"""#!/bin/sh\nif [ "$1" = -L ] || [ "$2" = "?" ]; then printf '{voices}\\n'; """
        f"""else printf '%s\\n' "$@" > '{heard}'; fi\n"""
    )
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=":")
    monkeypatch.setattr(speech.shutil, "which", lambda name: name if name == program else None)
    words = speech.command("-x; $(Bett)", "de")
    assert words is not None
    subprocess.run(words, check=False, timeout=20)
    assert (heard.read_text().splitlines() if heard.exists() else None) == (
        None if said is None else [*said, "--", "-x; $(Bett)"]
    )


def test_speech_is_in_the_windows_language(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[list[str]] = []
    monkeypatch.setattr(speech.sys, "platform", "linux")
    monkeypatch.setattr(speech.shutil, "which", lambda name: name if name == "espeak-ng" else None)
    monkeypatch.setattr(speech.QProcess, "startDetached", lambda _, words: started.append(words))
    with in_language("de"):
        speech.speak("Bett")
    assert started == [["-v", "de", "--", "Bett"]]


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
