"""Makes fixtures/visits/version_N.sql for every version of the visit log that has none yet.

python scripts/make_visit_versions.py        run it after `UPGRADES` has grown

Each file is the one before it, upgraded by one script, with a few rows of what that version brought. Files that are
there stay as they are: they hold what the version of then wrote.
"""

from __future__ import annotations

import io
import json
import sqlite3
from contextlib import closing, nullcontext
from pathlib import Path

from PIL import Image

from logger.meter.description import MeterDescription
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.setup import MeterFacts, Setup
from logger.visit.records.circumstances import Circumstances
from logger.visit.storage.entry_checksum import CHECKSUM_VERSION, keeping_checksums
from logger.visit.storage.schema import APPLICATION_ID, UPGRADES

VISITS = Path(__file__).resolve().parent.parent / "fixtures" / "visits"

SETUP = Setup(
    household="mill lane 4",
    reference="earth rod",
    supply="split phase",
    mains_hz=60.0,
    meter=MeterFacts.of(MeterDescription("Bench meter")),
)
_ANSWERS = ReferenceAnswers.of(SETUP)
SPAN = {
    "volts": 0.004, "u_volts": 0.001, "samples": 12, "run_id": 1, "start_t_ns": 0, "end_t_ns": 5_500_000_000,
    "first_line_id": 1, "last_line_id": 12,
}  # fmt: skip
CONTEXT = {
    "setup": json.loads(SETUP.to_json()),
    "verdicts": {"zero check": "passed"},
    "rod_volts": None,
}


def _photo() -> bytes:
    jpeg = io.BytesIO()
    Image.new("RGB", (16, 16), "gray").save(jpeg, "JPEG", quality=30)
    return jpeg.getvalue()


NEW_ROWS: dict[int, list[tuple[str, tuple[object, ...]]]] = {
    2: [
        ("UPDATE spot SET room = 'Bedroom', reminder = 'as at night' WHERE id = ?", (1,)),
        (
            "INSERT INTO fact (utc_ns, name, value) VALUES (?, 'setup', ?)",
            (1_767_211_150_000_000_000, SETUP.to_json()),
        ),
        (
            "INSERT INTO check_result (utc_ns, kind, verdict, sentence, steps) VALUES (?,?,?,?,?)",
            (
                1_767_211_160_000_000_000,
                "zero check",
                "passed",
                "0.004 V ± 0.002 V on the reference wire; at most 0.02 V is near zero.",
                json.dumps([{"name": "on the reference wire", "span": SPAN}]),
            ),
        ),
        (
            "INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken, context) "
            "VALUES (?, 2, 'Desk', 'everything off', 0.11, 0.01, 1, 'by hand', ?)",
            (1_767_211_240_000_000_000, json.dumps(CONTEXT)),
        ),
    ],
    3: [
        ("INSERT INTO source (kind, name, position) VALUES ('circuit', ?, 1)", ("Bedroom",)),
        ("INSERT INTO source (kind, name, position, circuit_id) VALUES ('cord', ?, 2, 1)", ("Bedside lamp",)),
        (
            "INSERT INTO step_name (utc_ns, run_id, t_ns, before_volts, after_volts, u_volts, spot_id, meaning, "
            "source_id) VALUES (?, 1, 5750000000, 0.271, 0.052, 0.006, 1, 'off', 2)",
            (1_767_211_250_000_000_000,),
        ),
        (
            "INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken, context, "
            "live) VALUES (?, 2, 'Desk', 'without Bedroom', 0.2, 0.01, 1, 'by hand', ?, ?)",
            (1_767_211_260_000_000_000, json.dumps(CONTEXT), json.dumps({"live": [], "listed": [1, 2]})),
        ),
    ],
    4: [
        (
            "INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken, context) "
            "VALUES (?, 2, 'Desk', 'everything off', 0.12, 0.01, 1, 'by hand', ?)",
            (1_767_211_270_000_000_000, json.dumps(CONTEXT)),
        ),
    ],
    5: [
        (
            "INSERT INTO reading_correction (utc_ns, reading_id, kind, from_spot_id, from_spot_name, to_spot_id, "
            "to_spot_name, reason, entered_by) VALUES (?, 4, 'spot', 2, 'Desk', 1, 'Bed, lying down', 'wrong spot', "
            "'A. Example')",
            (1_767_211_270_000_000_000,),
        ),
        (
            "INSERT INTO reading_correction (utc_ns, reading_id, kind, from_condition, from_live, to_condition, "
            "to_live, reason, entered_by) VALUES (?, 5, 'condition', 'without Bedroom', ?, 'everything off', ?, "
            "'the breaker was off', '')",
            (
                1_767_211_280_000_000_000,
                json.dumps({"live": [], "listed": [1, 2]}),
                json.dumps({"live": [2], "listed": [1, 2]}),
            ),
        ),
        (
            "INSERT INTO reading_correction (utc_ns, reading_id, kind, reason, entered_by) "
            "VALUES (?, 3, 'valid', 'it was the right spot', '')",
            (1_767_211_290_000_000_000,),
        ),
    ],
    6: [
        (
            "INSERT INTO spot_detail (utc_ns, spot_id, posture, height_m, place, plugged, person, others, entered_by) "
            "VALUES (?, 1, 'on the back', 0.5, 'left side, head 40 cm from the wall', 'lamp', '', '', 'A. Example')",
            (1_767_211_300_000_000_000,),
        ),
        (
            "INSERT INTO source_detail (utc_ns, source_id, panel, number, rating, leg, residual_current_device, feeds, "
            "outlet, entered_by) VALUES (?, 1, 'A', '7', '16 A', 'L1', '30 mA, with 3', 'outlets', '', '')",
            (1_767_211_300_000_000_000,),
        ),
        (
            "INSERT INTO photo (utc_ns, kind, width, height, jpeg, caption, entered_by) "
            "VALUES (?, 'photo', 16, 16, ?, 'from the door', '')",
            (1_767_211_310_000_000_000, _photo()),
        ),
        (
            "INSERT INTO photo_place (utc_ns, photo_id, spot_id) VALUES (?, 1, 1)",
            (1_767_211_310_000_000_000,),
        ),
        (
            "INSERT INTO fact (utc_ns, name, value) VALUES (?, 'circumstances', ?)",
            (1_767_211_320_000_000_000, Circumstances(footwear="socks", rod_length_m=1.0).to_json()),
        ),
    ],
    7: [
        (
            "INSERT INTO reading_correction (id, utc_ns, reading_id, kind, reason, entered_by) "
            "VALUES (4, ?, 4, 'reference', 'the socket was used', 'A. Example')",
            (1_767_211_330_000_000_000,),
        ),
        (
            "INSERT INTO reference_correction (correction_id, from_answers, to_answers) VALUES (4, ?, ?)",
            (_ANSWERS.to_json(), _ANSWERS.against("building earth", _ANSWERS).to_json()),
        ),
    ],
    8: [
        (
            "INSERT INTO remedy (utc_ns, kind, sources, spot_id, text, from_visit) "
            "VALUES (?, 'unplug at night', '[2]', 1, '', 'autumn.visit')",
            (1_767_211_340_000_000_000,),
        ),
        (
            "INSERT INTO remedy_entry (utc_ns, remedy_id, decision, due, done_on, by_whom, note, entered_by) "
            "VALUES (?, 1, 'planned', '2026-01-10', '', 'the household', '', 'A. Example')",
            (1_767_211_340_000_000_000,),
        ),
        (
            "INSERT INTO remedy_entry (utc_ns, remedy_id, decision, due, done_on, by_whom, note, entered_by) "
            "VALUES (?, 1, 'done', '', '2025-12-31', '', 'by a switched strip', '')",
            (1_767_211_350_000_000_000,),
        ),
        (
            "INSERT INTO remedy_entry (utc_ns, remedy_id, decision, due, done_on, by_whom, note, corrects, entered_by) "
            "VALUES (?, 1, 'planned', '2026-01-10', '', 'the household', '', 2, '')",
            (1_767_211_360_000_000_000,),
        ),
        (
            "INSERT INTO remedy_baseline (utc_ns, remedy_id, spot_id, read_utc_ns, visit, condition, live, volts, "
            "u_volts, context, details, posture_share, posture_degrees, predicted_volts, u_predicted_volts) "
            "VALUES (?, 1, 1, ?, 'autumn.visit', 'everything on', ?, 1.27, 0.02, ?, ?, 0.07, 4.0, 0.31, 0.05)",
            (
                1_767_211_340_000_000_000,
                1_759_262_400_000_000_000,
                json.dumps({"live": [1, 2], "listed": [1, 2]}),
                json.dumps(CONTEXT),
                json.dumps({"posture": "on the back", "height_m": 0.5}),
            ),
        ),
    ],
}
"""Rows that only this version could hold, each a statement with its values; from version 4 on with checksums."""


def load(version: int) -> sqlite3.Connection:
    """The visit of a version, in memory."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.executescript((VISITS / f"version_{version}.sql").read_text(encoding="utf-8"))
    return db


def main() -> None:
    """Write the files that are missing."""
    for version in range(2, len(UPGRADES) + 1):
        if (VISITS / f"version_{version}.sql").exists():
            continue
        with closing(load(version - 1)) as db:
            db.executescript(UPGRADES[version - 1])
            keeping = keeping_checksums(db) if version >= CHECKSUM_VERSION else nullcontext()
            with keeping:
                for statement, values in NEW_ROWS[version]:
                    db.execute(statement, values)
            head = (
                f"-- A visit as version {version} of the log kept it. An invented household.\n"
                f"PRAGMA application_id = {APPLICATION_ID};\nPRAGMA user_version = {version};\n"
            )
            path = VISITS / f"version_{version}.sql"
            path.write_text(head + "\n".join(db.iterdump()) + "\n", encoding="utf-8")
            print(f"{path.stat().st_size:>9,} bytes  {path}")


if __name__ == "__main__":
    main()
