"""The names of the facts of a visit log. They are kept in files of every version, so a name never changes."""

from __future__ import annotations

SETUP = "setup"
"""The set-up as JSON (`logger.metrology.setup.Setup`)."""

PRACTITIONER = "practitioner"
"""Who measured, as JSON (`logger.visit.records.practitioner`)."""

CONDITION = "condition"
"""The condition that was last stated; empty: to be asked again."""

CONDITION_BEGUN = "condition: begun"
"""When it was stated while a run went on, as JSON: it, the run, and the moment on the steady time line."""

CONDITION_ENDED = "condition: ended"
"""When a statement of the condition was replaced, as JSON: it, the run, and the moment in the run."""

SETUP_CHANGED = "setup: changed in a run"
"""When another reference or meter input was stated while a run went on, as JSON: the run, and the moment in it."""

CHECK_STEP = "check: step taken"
"""A step of a check as it was taken, as JSON: the check, the step, and the stretch that its value rests on."""

SCHEDULE = "schedule"
"""What is planned to be switched in the night (`logger.night.schedule`)."""

RENAMED = "circuit: renamed"
"""Another name of a circuit or cord, as JSON: its id, the name before and after (`storage.name_history`)."""

NIGHT_EDGES = "night: edges"
"""The edges of nights that the user moved, as JSON (`logger.night.night_edges`)."""

NIGHT_CONDITION = "night: condition"
"""What is on in a night, as JSON: it, and a run of that night (`logger.night.night_conditions`)."""

NIGHT_SPOT = "night: spot"
"""Where the person lies in a night, as JSON: spot, name, and a run of that night (`logger.night.night_spots`)."""

SKIPPED_CIRCUITS = "sweep: skipped circuits"
"""Ids of the circuits that the sweep does not read alone, parted by spaces."""

MATCHED_SPOTS = "comparison: spots matched by hand"
"""Spots of this visit that the user matched with those of an earlier one, as JSON."""

SAME_HOME = "comparison: same home by hand"
"""Starts of the earlier visits which the user confirmed to be of the same home, as JSON."""

SAME_METER = "meter: line forms of one meter"
"""Forms of lines which the user called those of one meter, as JSON: a list of pairs."""

CONTINUED_IN = "continued in"
"""Path of the visit log in which the recording goes on, after this one was deleted or replaced at its place."""

CONTINUED_FROM = "continued from"
"""Name of the visit log that this one took over from, after that one was deleted or replaced at its place."""

REST_OF = "rest of a recording"
"""Of which recording this log holds the rest, and from where, as JSON (`records.rest_record`)."""

REST_ELSEWHERE = "rest of a recording is elsewhere"
"""Which file holds lines of a recording that this log did not take, as JSON (`records.rest_record`, its `visit` being
that file's name): kept once the log could be written again, so that it says so wherever it is copied."""

SALVAGED_FROM = "salvaged"
"""That this log was made from a damaged one, and what was lost, as JSON (`records.salvage_record`)."""

CIRCUMSTANCES = "circumstances"
"""What of person, bed, rod and lead makes readings repeatable, as JSON (`records.circumstances`)."""

CONTINUES_VISIT = "continues visit"
"""Which earlier visit of the home this one was begun from, as JSON (`records.continued_home`)."""

MARK_ABOUT = "mark: readings it is about"
"""Which readings a mark is about, as JSON (`records.mark_about`)."""

CORRECTS_DESCRIPTION = "spot: description corrects the one before"
"""Id of a description of a spot that was so already when the one before it was entered."""

FURTHER_OF_DESCRIPTION = "spot: further of a description"
"""What a description of a spot has besides its row, as JSON: the id of that row, and each field that is not empty."""

FURTHER_OF_SOURCE = "circuit: further of its details"
"""What the details of a circuit or cord have besides their row, as JSON: as of a description of a spot."""
