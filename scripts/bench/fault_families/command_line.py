"""The command line: odd names, numbers, homes and zones, the keyboard, a reader who has gone."""

from __future__ import annotations

import os
import shutil
import signal
import time
from pathlib import Path

from scripts.bench.fault_families.forks import Forks, shared_forks
from scripts.bench.fault_families.messages import RATE_HZ, steady_lines
from scripts.bench.fault_families.sample_visit import BEGAN, sample_visit, trace
from scripts.bench.fault_families.trials import Bench, Result, Tally, ended, rows
from scripts.pty_meter import PtyMeter

WRONG_NUMBERS = ("nan", "inf", "-inf", "0", "-1", "1e999", "", "x", "٣٣x", "0x10", "1_0_")
WRONG_BAUDS = ("0", "-1", "nan", "9600.5", "", "99999999999999999999", "９６００x")
STARTED_S = 0.5
"""By then a command runs code of its own."""
LONG = "n" * 300
BYTES = b"caf\xe9\xff.visit"

USABLE_NAMES = ("home.visit", "Küche.visit", "a b.visit", "日本.visit", "no suffix", ".hidden.visit")
UNUSABLE_NAMES = (
    "CON", "con.visit", "NUL.visit", "COM1.visit", "...", " ", "a:b.visit", "a?b.visit",
    "evil\u202etisiv.visit", "a\nb.visit", "\x1b[2J.visit", "a\u200b.visit", "trailing.",
    "trailing ", f"{LONG}.visit", "x" * 251 + ".visit",
)  # fmt: skip
ZONES = (
    "",
    ":",
    "Nowhere/Land",
    "XYZ-99",
    "../../etc/passwd",
    "UTC",
    "Europe/Vienna",
    "America/St_Johns",
    "\udcff",
    "A" * 2000,
)

IMPOSSIBLE_ZONES = ("XYZ-99",)
"""Of these, those that are more than a day away from UTC: no time can be stated in them, and they are refused."""


def command_line(bench: Bench, tally: Tally) -> None:
    """Run the family."""
    with bench.place() as place:
        sound = sample_visit(bench, place / "sound.visit")
        _numbers(bench, tally, place)
        with shared_forks(bench) as forks:
            _names(bench, forks, tally, place, sound)
        _homes_and_zones(bench, tally, sound)
        _wrong_words(bench, tally, place, sound)
    _keyboard(bench, tally)


def _numbers(bench: Bench, tally: Tally, place: Path) -> None:
    record = ("record", "--port", "sim://", "--visit", place / "n.visit")
    for option, values in (("--for", WRONG_NUMBERS), ("--baud", WRONG_BAUDS)):
        for value in bench.chosen(values):
            end = () if option == "--for" else ("--for", "1")
            result = bench.run(*record, f"{option}={value}", *end, limit_s=20.0)
            tally.add(f"{option} {value!r}", result.refused(), result.text)
            for path in place.glob("n.visit*"):
                path.unlink()
    for value in bench.chosen(WRONG_NUMBERS[:3]):
        with bench.place() as folder:
            (folder / "r.csv").write_text("on,volts,u_volts\n*,0.5,0.01\n,0.1,0.01\nA,0.3,0.01\n")
            result = bench.run("sources", folder / "r.csv", f"--target={value}")
            tally.add(f"sources --target {value}", result.refused(), result.text)
            result = bench.run(*record, f"--query-every={value}", "--for", "1", limit_s=20.0)
            tally.add(f"--query-every {value}", result.refused(), result.text)


def _names(bench: Bench, forks: Forks, tally: Tally, place: Path, sound: Path) -> None:
    logged = trace(place / "logged.csv", 60.0)
    for name in bench.chosen((*USABLE_NAMES, *UNUSABLE_NAMES)):
        with bench.place() as folder:
            result = forks.run(("import", logged, "--visit", folder / name, "--began", BEGAN))
            kind = result.done() if name in USABLE_NAMES else result.refused()
            if not kind and name in UNUSABLE_NAMES and list(folder.iterdir()):
                kind = "let in"
            if not kind and any(
                (ord(c) < 32 and c not in "\n\t") or c in "\u202e\u200b" for c in result.text
            ):
                kind = "let in"
            tally.add(f"a visit called {name[:40]!r}", kind, result.text)
    long, data = os.fsencode(place / LONG), os.fsencode(place) + b"/" + BYTES
    places = (("300 characters", long), ("bytes", data), ("a folder", os.fsencode(place)), ("nothing", b""))
    for what, path in bench.chosen(places):
        reading: tuple[tuple[str | bytes | Path, ...], ...] = (
            ("report", path, "--out", place / "page.html"), ("export", path, "--out", place / "e"),
            ("compare", path, sound), ("verify", path), ("form", path, "--out", place / "form.html"), ("night", path),
            ("stop", path), ("lines", path), ("replay", path, "--events", place / "events"), ("sources", path),
            ("archive", path + b"/missing"),
        )  # fmt: skip
        for words in bench.chosen(reading):
            result = forks.run(words)
            kind = result.refused() if result.status != 2 or words[0] != "verify" else ""
            tally.add(f"{words[0]!s} of {what}", kind, result.text)
        if what in ("300 characters", "a folder", "nothing"):
            writing: tuple[tuple[str | bytes | Path, ...], ...] = (
                ("report", sound, "--out", path),
                ("form", sound, "--out", path),
                ("replay", logged, "--events", path),
            )
            for command in bench.chosen(writing):
                result = forks.run(command)
                tally.add(f"{command[0]!s} to {what}", result.refused(), result.text)
    named = os.fsencode(place) + b"/" + BYTES
    shutil.copy(os.fsencode(sound), named)
    odd: tuple[tuple[str | bytes | Path, ...], ...] = (
        ("report", named, "--out", place / "bytes.html"),
        ("export", named, "--out", place / "be"),
        ("verify", named),
    )
    for words in bench.chosen(odd):
        result = forks.run(words)
        kind = result.failure() or ("" if result.status in (0, 1, 2) and result.text.strip() else "not told")
        tally.add(f"{words[0]!s} of a visit whose name is no text", kind, result.text)


def _homes_and_zones(bench: Bench, tally: Tally, sound: Path) -> None:
    homes: dict[str, dict[str, str | None]] = {
        "none": dict.fromkeys(
            ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME")
        ),
        "read-only": {
            "HOME": "/proc",
            **{f"XDG_{n}_HOME": "/proc/x" for n in ("CACHE", "CONFIG", "STATE", "DATA")},
        },
        "a file": {
            "HOME": "/dev/null",
            **{f"XDG_{n}_HOME": "/dev/null/x" for n in ("CACHE", "CONFIG", "STATE", "DATA")},
        },
        "empty": {"HOME": "", **{f"XDG_{n}_HOME": "" for n in ("CACHE", "CONFIG", "STATE", "DATA")}},
        "missing": {
            "HOME": "/missing",
            **{f"XDG_{n}_HOME": "/missing/x" for n in ("CACHE", "CONFIG", "STATE", "DATA")},
        },
    }
    for name, change in bench.chosen(homes.items()):
        environment = bench.environment(None, **change)
        with bench.place() as folder:
            shutil.copy(sound, folder / "home.visit")
            commands: tuple[tuple[str | Path, ...], ...] = (
                ("report", folder / "home.visit", "--out", folder / "p.html"), ("running",), ("meters",), ("ports",),
                ("stop", folder / "home.visit"),
                ("record", "--port", "sim://", "--visit", folder / "r.visit", "--for", "1"),
            )  # fmt: skip
            for words in bench.chosen(commands):
                result = bench.run(*words, env=environment, cwd=folder)
                kind = result.refused() if words[0] == "stop" else result.done()
                tally.add(f"{words[0]}, home {name}", kind, result.text)
    for zone in bench.chosen(ZONES):
        with bench.place() as folder:
            result = bench.run(
                "record",
                "--port",
                "sim://",
                "--visit",
                folder / "z.visit",
                "--for",
                "1",
                env=bench.environment(TZ=zone),
            )
            tally.add(f"record, TZ={zone[:30]!r}", _zone_failure(zone, result), result.text)
            result = bench.run("report", sound, "--out", folder / "p.html", env=bench.environment(TZ=zone))
            tally.add(f"report, TZ={zone[:30]!r}", _zone_failure(zone, result), result.text)


def _zone_failure(zone: str, result: Result) -> str:
    return result.refused() if zone in IMPOSSIBLE_ZONES else result.done()


def _wrong_words(bench: Bench, tally: Tally, place: Path, sound: Path) -> None:
    wrong: tuple[tuple[str | Path, ...], ...] = (
        ("report",), ("nonsense",), ("report", sound), ("--nonsense",), ("record", "--port", "sim://"),
        ("night", sound, "--night", "0"),
        ("night", sound, "--night", "99"), ("night", sound, "--from", "25:99"),
        ("export", sound, "--out", place / "x", "--format", "pdf"),
        ("compare", sound, sound, "--match", "="), ("import", sound, "--visit", place / "i.visit", "--began", BEGAN),
        ("import", place / "logged.csv", "--visit", place / "i.visit", "--began", "yesterday"),
        ("lines", place),
        ("archive", place, "--from", "2026-13-40"), ("record", "--port", "", "--visit", place / "i.visit"),
        ("record", "--port", "/dev/null", "--visit", place / "i.visit", "--for", "1"),
        ("record", "--port", str(sound), "--visit", place / "i.visit"),
    )  # fmt: skip
    for words in bench.chosen(wrong):
        result = bench.run(*words, limit_s=30.0)
        tally.add(f"stillvolt {' '.join(map(str, words))[:60]}", result.refused(), result.text)


def _keyboard(bench: Bench, tally: Tally) -> None:
    """Ctrl+C ends each command with a sentence; a recording ends in order."""
    for after_s in bench.chosen((0.05, 0.3, 1.0, 2.0)):
        for words in bench.chosen((("archive", "/usr"), ("identify", "--port", "METER"))):
            with bench.place() as place:
                meter = PtyMeter(place / "meter", iter(()), 1.0)
                given = [str(place / "meter") if word == "METER" else word for word in words]
                with bench.started(*given, start_new_session=True) as process:
                    time.sleep(after_s)
                    process.send_signal(signal.SIGINT)
                    result = ended(process, 20.0)
                meter.stop()
                # Before the program's own code runs, Python ends as it ends any program.
                early = after_s < STARTED_S and result.status is not None
                tally.add(
                    f"Ctrl+C after {after_s} s in {words[0]}", "" if early else result.failure(), result.text
                )
    for number in bench.chosen((signal.SIGINT, signal.SIGTERM, signal.SIGHUP)):
        with bench.place() as place:
            visit = place / "home.visit"
            meter = PtyMeter(place / "meter", steady_lines(), RATE_HZ)
            with bench.started("record", "--port", place / "meter", "--visit", visit) as process:
                limit = time.monotonic() + 30
                while not rows(visit, "SELECT 1 FROM line") and time.monotonic() < limit:
                    time.sleep(0.1)
                process.send_signal(number)
                process.send_signal(number)
                result = ended(process, 20.0)
            meter.stop()
            over = rows(visit, "SELECT reason FROM run_end")
            tally.add(
                f"{number.name} twice in record",
                result.done() or ("" if over else "lost"),
                f"{over} {result.text}",
            )
