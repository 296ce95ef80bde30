"""The tables of a visit log, and how an older file becomes a current one.

One SQLite file that explains itself. Every time is UTC nanoseconds (`*_utc_ns`) or nanoseconds on the steady
clock since the start of the run (`*_t_ns`). What was recorded is never changed or deleted: triggers refuse it,
so that no program error can do it either. A mistaken reading gets a row in `reading_void` or `reading_correction` and
stays.
"""

from __future__ import annotations

APPLICATION_ID = 0x53564C54
"""'SVLT' in ASCII: how `file` and this program know a visit log from any other SQLite file."""

CHECKSUM_TABLES = {
    "fact": "id", "run": "id", "run_end": "run_id", "event": "id", "notice": "id", "spot": "id", "source": "id",
    "reading": "id", "reading_void": "reading_id", "mark": "id", "mark_void": "mark_id", "check_result": "id",
    "step_name": "id",
}  # fmt: skip
"""The tables of version 4 whose entries have a checksum each, with the column of the id; lines have one for each run.
An upgrade reads this: a table that a later version brings has a place of its own."""

LATER_CHECKSUM_TABLES = {
    "reading_correction": ("id", 5), "spot_detail": ("id", 6), "source_detail": ("id", 6), "photo": ("id", 6),
    "photo_place": ("id", 6), "reference_correction": ("correction_id", 7), "remedy": ("id", 8),
    "remedy_entry": ("id", 8), "remedy_baseline": ("id", 8),
}  # fmt: skip
"""The same for tables that later versions brought, each with its version, whose columns count."""

_VERSION_1 = """
-- What is known of the visit (title, household, supply, condition ...). The newest row of a name holds.
CREATE TABLE fact (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    name TEXT NOT NULL,
    value TEXT NOT NULL
) STRICT;

-- One row each time a recorder began to listen to a port.
CREATE TABLE run (
    id INTEGER PRIMARY KEY,
    started_utc_ns INTEGER NOT NULL,
    zone TEXT NOT NULL,            -- IANA name of the local time zone, for people
    utc_offset_s INTEGER NOT NULL, -- local time minus UTC at the start
    port TEXT NOT NULL,
    settings TEXT NOT NULL,        -- JSON
    software TEXT NOT NULL
) STRICT;

CREATE TABLE run_end (
    run_id INTEGER PRIMARY KEY REFERENCES run (id),
    utc_ns INTEGER NOT NULL,
    t_ns INTEGER NOT NULL,
    reason TEXT NOT NULL
) STRICT;

-- Every line that the meter sent, in order of arrival, and how it was read.
CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    run_id INTEGER NOT NULL REFERENCES run (id),
    utc_ns INTEGER NOT NULL,
    t_ns INTEGER NOT NULL,
    status TEXT NOT NULL,          -- volts, overload, not_ac_volts, unreadable, held
    volts REAL,                    -- AC rms volts where status is volts (or held: shown, but no sample)
    raw BLOB NOT NULL              -- the bytes as sent, without the line's end
) STRICT;

-- What the detector found, each written when it was over.
CREATE TABLE event (
    id INTEGER PRIMARY KEY,
    run_id INTEGER NOT NULL REFERENCES run (id),
    kind TEXT NOT NULL,            -- settled, motion, step, gap, overload
    start_t_ns INTEGER NOT NULL,
    end_t_ns INTEGER NOT NULL,     -- a step has no length: end = start
    known_at_t_ns INTEGER NOT NULL,
    volts REAL,                    -- settled: level; motion: peak
    u_volts REAL,                  -- settled: of the level; step: of after - before
    before_volts REAL,
    after_volts REAL,
    samples INTEGER
) STRICT;
CREATE INDEX event_by_run ON event (run_id, start_t_ns);

-- What happened to the recording itself: port lost, port back, clock set, disk full ...
CREATE TABLE notice (
    id INTEGER PRIMARY KEY,
    run_id INTEGER NOT NULL REFERENCES run (id),
    utc_ns INTEGER NOT NULL,
    t_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,
    message TEXT NOT NULL
) STRICT;

-- The plan of the visit: may be edited, readings keep the name as it was.
CREATE TABLE spot (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    position REAL NOT NULL,
    removed_utc_ns INTEGER
) STRICT;

CREATE TABLE reading (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    run_id INTEGER REFERENCES run (id),
    spot_id INTEGER NOT NULL REFERENCES spot (id),
    spot_name TEXT NOT NULL,
    condition TEXT NOT NULL,       -- what was live; '' = not stated
    volts REAL NOT NULL,
    u_volts REAL NOT NULL,
    samples INTEGER NOT NULL,
    start_t_ns INTEGER,
    end_t_ns INTEGER,
    first_line_id INTEGER REFERENCES line (id),
    last_line_id INTEGER REFERENCES line (id),
    taken TEXT NOT NULL            -- settled, override, by hand
) STRICT;

CREATE TABLE reading_void (
    reading_id INTEGER PRIMARY KEY REFERENCES reading (id),
    utc_ns INTEGER NOT NULL,
    reason TEXT NOT NULL
) STRICT;

CREATE TABLE mark (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    run_id INTEGER REFERENCES run (id),
    t_ns INTEGER,
    text TEXT NOT NULL
) STRICT;

CREATE TABLE mark_void (
    mark_id INTEGER PRIMARY KEY REFERENCES mark (id),
    utc_ns INTEGER NOT NULL,
    reason TEXT NOT NULL
) STRICT;

-- A window asks the recorder for something through the log, so that nothing has to listen.
CREATE TABLE request (
    id INTEGER PRIMARY KEY,
    run_id INTEGER NOT NULL REFERENCES run (id),
    utc_ns INTEGER NOT NULL,
    what TEXT NOT NULL             -- stop
) STRICT;

-- The recorder's heartbeat: what is true now. Not a record; overwritten with each batch of lines, in the
-- same transaction, so that it always agrees with them.
CREATE TABLE live (
    run_id INTEGER PRIMARY KEY REFERENCES run (id),
    pid INTEGER NOT NULL,
    beat_utc_ns INTEGER NOT NULL,
    beat_t_ns INTEGER NOT NULL,
    port_state TEXT NOT NULL,      -- open, lost
    port_message TEXT NOT NULL,
    state TEXT NOT NULL,
    since_t_ns INTEGER NOT NULL,
    volts REAL,
    u_volts REAL,
    samples INTEGER NOT NULL,
    last_line_id INTEGER,
    count_volts INTEGER NOT NULL,
    count_overload INTEGER NOT NULL,
    count_not_ac_volts INTEGER NOT NULL,
    count_unreadable INTEGER NOT NULL,
    last_refused TEXT NOT NULL,    -- why the last line that is no sample was refused
    warning TEXT NOT NULL,         -- what is wrong with the meter now; '' = nothing
    frozen INTEGER NOT NULL,       -- 1: the display seems to stand still
    open_events TEXT NOT NULL      -- JSON: what the detector would find if the trace ended now
) STRICT;
"""


def _append_only(*tables: str) -> str:
    return "".join(
        f"CREATE TRIGGER {table}_keeps_{verb.lower()} BEFORE {verb} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'what was recorded is never changed or deleted'); END;\n"
        for table in tables
        for verb in ("UPDATE", "DELETE")
    )


_VERSION_1 += _append_only(
    "fact", "run", "run_end", "line", "event", "notice", "reading", "reading_void", "mark", "mark_void"
)

_VERSION_2 = """
-- Where a spot is, and what has to be on when it is read.
ALTER TABLE spot ADD COLUMN room TEXT NOT NULL DEFAULT '';
ALTER TABLE spot ADD COLUMN reminder TEXT NOT NULL DEFAULT '';

-- What held when a reading was taken: set-up, meter, reference, verdicts of the checks. JSON; '' in older logs.
ALTER TABLE reading ADD COLUMN context TEXT NOT NULL DEFAULT '';

-- Proof that meter and reference work. Each step keeps its value and the lines it came from.
CREATE TABLE check_result (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,            -- zero check, reference check, function check
    verdict TEXT NOT NULL,         -- passed, failed, not decided, skipped
    sentence TEXT NOT NULL,
    steps TEXT NOT NULL            -- JSON: name, volts, u_volts, run_id, start_t_ns, end_t_ns, first and last line
) STRICT;
""" + _append_only("check_result")

_VERSION_3 = """
-- The set-up in which a check was done: it proves nothing for another meter or reference. JSON; '' in older logs.
ALTER TABLE check_result ADD COLUMN setup TEXT NOT NULL DEFAULT '';

-- Circuits and cords of the home: what can be switched off or unplugged. The list may be edited.
CREATE TABLE source (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,                             -- circuit, cord
    name TEXT NOT NULL,
    position REAL NOT NULL,
    circuit_id INTEGER REFERENCES source (id),      -- that a cord is plugged into; NULL where it is not known
    two_pole INTEGER NOT NULL DEFAULT 0,            -- 1: the breaker switches two legs together
    stays TEXT NOT NULL DEFAULT '',                 -- why it must stay on; '' = it may be switched off
    removed_utc_ns INTEGER
) STRICT;

-- What the user says a step of the trace was. The newest row for a step holds.
CREATE TABLE step_name (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    run_id INTEGER NOT NULL REFERENCES run (id),
    t_ns INTEGER NOT NULL,                          -- of the step; this and its size as they stood when it was named:
    before_volts REAL NOT NULL,                     -- the user's word stays, also where the detector takes it back
    after_volts REAL NOT NULL,
    u_volts REAL NOT NULL,
    spot_id INTEGER REFERENCES spot (id),           -- where the body was
    meaning TEXT NOT NULL,                          -- on, off, ignored, unnamed
    source_id INTEGER REFERENCES source (id)        -- NULL where it is ignored or unnamed
) STRICT;

-- What was live, one by one, and what was on the list then: JSON, lists of ids; '' = not stated so.
ALTER TABLE reading ADD COLUMN live TEXT NOT NULL DEFAULT '';
"""
_VERSION_3 += _append_only("step_name")

_VERSION_4 = """
-- A checksum of each entry but the lines, in the order in which entries were written (`entry_checksum.py`).
CREATE TABLE entry_checksum (
    id INTEGER PRIMARY KEY,
    entry_table TEXT NOT NULL,
    entry_id INTEGER NOT NULL,
    digest BLOB NOT NULL           -- first half of the SHA-256; empty for what was written before there were any
) STRICT;
CREATE INDEX entry_checksum_by_entry ON entry_checksum (entry_table, entry_id);

-- How many checksums there are and what they give together: one row, kept up with each of them.
CREATE TABLE entry_chain (
    id INTEGER PRIMARY KEY,
    entries INTEGER NOT NULL,
    head BLOB NOT NULL
) STRICT;

-- The lines of the run so far and their checksum, as the run's fact has it at the end; '' in older logs.
ALTER TABLE live ADD COLUMN line_checksum TEXT NOT NULL DEFAULT '';
""" + _append_only("entry_checksum")
_VERSION_4 += "".join(
    f"INSERT INTO entry_checksum (entry_table, entry_id, digest) SELECT '{table}', {key}, x'' FROM {table};\n"
    for table, key in CHECKSUM_TABLES.items()
)
_VERSION_4 += "INSERT INTO entry_chain (id, entries, head) SELECT 1, count(*), x'' FROM entry_checksum;\n"

_VERSION_5 = """
-- What was wrong about a reading: each correction is a row of its own, and the reading stays as it was taken. The first
-- void of a reading is in reading_void, as ever; that it is valid again, and a void after that, are rows here.
CREATE TABLE reading_correction (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    reading_id INTEGER NOT NULL REFERENCES reading (id),
    kind TEXT NOT NULL,                             -- spot, condition, void, valid
    from_spot_id INTEGER REFERENCES spot (id),      -- spot: from where to where, with the names as they were then
    from_spot_name TEXT,
    to_spot_id INTEGER REFERENCES spot (id),
    to_spot_name TEXT,
    from_condition TEXT,                            -- condition: from what to what
    from_live TEXT,                                 -- as in reading
    to_condition TEXT,
    to_live TEXT,
    reason TEXT NOT NULL,
    entered_by TEXT NOT NULL                        -- the practitioner's name; '' = not stated
) STRICT;
""" + _append_only("reading_correction")

_VERSION_6 = """
-- What makes a reading at a spot repeatable. The newest row of a spot holds; older ones held for older readings.
CREATE TABLE spot_detail (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    spot_id INTEGER NOT NULL REFERENCES spot (id),
    posture TEXT NOT NULL,                          -- of this and the other texts: '' = not recorded
    height_m REAL,                                  -- of the body's measured place above the floor, metres
    place TEXT NOT NULL,                            -- where exactly, in words
    plugged TEXT NOT NULL,                          -- what was plugged in and on there
    person TEXT NOT NULL,                           -- who was measured
    others TEXT NOT NULL,                           -- who stood where
    entered_by TEXT NOT NULL                        -- the practitioner's name; '' = not stated
) STRICT;

-- A circuit at its panel, or a cord at its outlet. The newest row of a circuit or cord holds.
CREATE TABLE source_detail (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    source_id INTEGER NOT NULL REFERENCES source (id),
    panel TEXT NOT NULL,                            -- as marked: A, cellar
    number TEXT NOT NULL,                           -- as printed at the panel: 7, F12/14
    rating TEXT NOT NULL,                           -- 16 A, B16
    leg TEXT NOT NULL,                              -- leg or phase as marked at the panel
    residual_current_device TEXT NOT NULL,          -- 30 mA, with 3 and 4
    feeds TEXT NOT NULL,                            -- what it feeds
    outlet TEXT NOT NULL,                           -- of a cord: which outlet
    entered_by TEXT NOT NULL
) STRICT;

-- A photograph or a sketch of a spot: a JPEG without anything but the picture.
CREATE TABLE photo (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,                             -- photo, sketch
    width INTEGER NOT NULL,                         -- pixels
    height INTEGER NOT NULL,
    jpeg BLOB NOT NULL,
    caption TEXT NOT NULL,
    entered_by TEXT NOT NULL
) STRICT;

-- Which spot a photo belongs to. The newest row of a photo holds.
CREATE TABLE photo_place (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    photo_id INTEGER NOT NULL REFERENCES photo (id),
    spot_id INTEGER REFERENCES spot (id)            -- NULL = taken off
) STRICT;
""" + _append_only("spot_detail", "source_detail", "photo", "photo_place")

_VERSION_7 = """
-- What a reading was read against, before and after a correction of the kind `reference`: JSON, the answers on
-- reference, rod, laptop and link as in the set-up. Who corrected it, when and why is in its row of reading_correction.
CREATE TABLE reference_correction (
    correction_id INTEGER PRIMARY KEY REFERENCES reading_correction (id),
    from_answers TEXT NOT NULL,
    to_answers TEXT NOT NULL
) STRICT;
""" + _append_only("reference_correction")

_VERSION_8 = """
-- What is to be done about a finding. What was decided on it, and when it was done, is in remedy_entry.
CREATE TABLE remedy (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,                             -- unplug for good, unplug at night, breaker off at night ... own
    sources TEXT NOT NULL,                          -- JSON: ids of the circuits and cords that it is about
    spot_id INTEGER REFERENCES spot (id),           -- NULL where it is about none in particular
    text TEXT NOT NULL,                             -- in the user's own words; '' = none
    from_visit TEXT NOT NULL                        -- file of the visit that it was taken over from; '' = entered here
) STRICT;

-- A decision on a remedy. The newest one holds of those that no other one took back.
CREATE TABLE remedy_entry (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    remedy_id INTEGER NOT NULL REFERENCES remedy (id),
    decision TEXT NOT NULL,                         -- planned, done, undone, not wanted
    due TEXT NOT NULL,                              -- planned: until which day, as 2026-03-31; '' = not stated
    done_on TEXT NOT NULL,                          -- done, undone: on which day; '' = at the moment of the entry
    by_whom TEXT NOT NULL,
    note TEXT NOT NULL,
    distance_m REAL,                                -- how far a cord or bed is moved, metres; NULL = not stated
    corrects INTEGER REFERENCES remedy_entry (id),  -- the entry that this one takes back as mistaken
    entered_by TEXT NOT NULL                        -- the practitioner's name; '' = not stated
) STRICT;

-- What an earlier visit read before a remedy that was taken over from it was done, and what it predicted.
CREATE TABLE remedy_baseline (
    id INTEGER PRIMARY KEY,
    utc_ns INTEGER NOT NULL,
    remedy_id INTEGER NOT NULL REFERENCES remedy (id),
    spot_id INTEGER NOT NULL REFERENCES spot (id),
    read_utc_ns INTEGER NOT NULL,
    visit TEXT NOT NULL,                            -- file of the visit in which it was read
    condition TEXT NOT NULL,
    live TEXT NOT NULL,                             -- as in reading, with the ids of this log
    volts REAL NOT NULL,
    u_volts REAL NOT NULL,
    context TEXT NOT NULL,                          -- as in reading
    details TEXT NOT NULL,                          -- JSON: how somebody was at the spot
    posture_share REAL NOT NULL,                    -- repeatability of the posture in that visit, and
    posture_degrees REAL NOT NULL,                  -- its degrees of freedom
    predicted_volts REAL,                           -- with this remedy alone; NULL = nothing predicts it
    u_predicted_volts REAL,
    predicted_together_volts REAL,                  -- with all remedies that were taken over
    u_predicted_together_volts REAL
) STRICT;
""" + _append_only("remedy", "remedy_entry", "remedy_baseline")

UPGRADES: tuple[str, ...] = (
    _VERSION_1, _VERSION_2, _VERSION_3, _VERSION_4, _VERSION_5, _VERSION_6, _VERSION_7, _VERSION_8
)  # fmt: skip
"""UPGRADES[n] turns a file of user_version n into one of n + 1."""

USER_VERSION = len(UPGRADES)
