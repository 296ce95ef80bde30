"""The visit that the families damage and copy: an invented home, made by the installed command from a trace."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from scripts.bench.fault_families.trials import Bench

SQL = Path(__file__).resolve().parents[3] / "fixtures" / "visits" / "version_3.sql"
BEGAN = "2026-01-02T22:00:00+01:00"
NIGHT_S = 4.1 * 3600
"""A little longer than the shortest night that is summed up."""
STEP_S = 2.0
SPOTS = 30


def trace(path: Path, seconds: float = NIGHT_S) -> Path:
    """Write a trace of a load that comes and goes."""
    source = random.Random(1)
    values = (
        f"{index * STEP_S:.1f},{0.3 + 0.1 * (index * STEP_S // 1500 % 2) + source.gauss(0, 0.002):.4f}\n"
        for index in range(round(seconds / STEP_S))
    )
    path.write_text("time_s,volts\n" + "".join(values))
    return path


def sample_visit(bench: Bench, path: Path) -> Path:
    """Put a visit with a night, spots and readings there; raises RuntimeError where the command cannot make one."""
    if bench.sample is None:
        bench.sample = _made(bench, bench.folder / "sample.visit")
    shutil.copyfile(bench.sample, path)
    path.chmod(0o600)
    return path


def _made(bench: Bench, path: Path) -> Path:
    with closing(sqlite3.connect(path)) as db:
        # Its check states another value than the samples that it rests on, which is a finding of its own.
        db.executescript(SQL.read_text(encoding="utf-8").replace('"volts": 0.004', '"volts": 0.271'))
        utc_ns, context = db.execute("SELECT utc_ns, context FROM reading WHERE id = 4").fetchone()
        for number in range(SPOTS):
            spot = db.execute(
                "INSERT INTO spot (name, position, room) VALUES (?, ?, ?)",
                (f"Chair {number}", 10.0 + number, f"Room {number % 5}"),
            ).lastrowid
            for condition, volts in (
                ("everything on", 0.5 + number / 100),
                ("everything off", number / 1000),
            ):
                db.execute(
                    "INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken, "
                    "context) VALUES (?, ?, ?, ?, ?, 0.01, 1, 'by hand', ?)",
                    (utc_ns, spot, f"Chair {number}", condition, volts, context),
                )
        db.commit()
    logged = trace(path.with_name("logged.csv"))
    made = bench.run("import", logged, "--visit", path, "--began", BEGAN)
    if made.status != 0:
        raise RuntimeError(made.text)
    return path
