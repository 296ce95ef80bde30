"""A night in a minute: the practice house as it is switched now, with somebody asleep in it for a whole night.

It is recorded into the visit as a run of its own, through the recorder's own code; for learning the stage Night at a
desk.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar

from logger.clock import NS_PER_S, format_duration, month_text
from logger.night.night_conditions import keep_night_entry, night_entries
from logger.night.night_entries import NightEntry, entered_for
from logger.night.night_spots import keep_night_spot, night_spot_entries
from logger.recording.recorder_lock import sole_recorder
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.body import BodyHabits
from logger.simulation.house.commands import parse_command
from logger.simulation.house.scene import Entry, Scene
from logger.simulation.practice_switches import PracticeHouse
from logger.simulation.protocol_sim import scene_of
from logger.translation import kept_text, tr
from logger.visit.storage.run_meter import description_of
from logger.visit.storage.visit_log import VisitLog

Value = TypeVar("Value")

NIGHT_S = 8 * 3600.0
RATE_HZ = 2.0
BEDTIME = (22, 30)
"""Hour and minute, local."""

SLEEPER = BodyHabits(motions_per_hour=4.0, shift=0.03, strength=0.8, breaths_per_minute=13.0)
"""Somebody who sleeps well; invented."""

THERMOSTAT = "aquarium heater"
"""A cord that switches by itself all night, in a house that has one."""
THERMOSTAT_EVERY_S, ON_FROM_S, OFF_FROM_S, SPREAD_S = 43 * 60.0, 11 * 60.0, 28 * 60.0, 60.0

BEDTIME_COMMANDS = ("lie still", "probe in hand", "meter on", "meter ac", "plug cable")
"""What is put right before the night, whatever was left."""

PIECE_S = 60.0
"""Simulated time between two looks at whether it is cancelled."""

CANCELLED_REASON = kept_text("called off")
OVER_REASON = kept_text("the night was over")


def bedtime(end: datetime, length_s: float = NIGHT_S) -> datetime:
    """The latest bedtime of which a night is over by then, local.

    Args:
        end: the night is over by then.
        length_s: of the night.
    """
    at = end.replace(hour=BEDTIME[0], minute=BEDTIME[1], second=0, microsecond=0)
    while at + timedelta(seconds=length_s) > end:
        at -= timedelta(days=1)
    return at


def night_scene(url: str) -> Scene:
    """The house behind a URL as it is switched now, with somebody asleep in it.

    Raises:
        StillvoltError: as `PracticeHouse`.
    """
    practice_house = PracticeHouse(url)
    house = practice_house.house
    script = []
    if THERMOSTAT in house.cords:
        script = [
            Entry(from_s, THERMOSTAT_EVERY_S, SPREAD_S, parse_command(f"{THERMOSTAT} {word}", house))
            for word, from_s in (("on", ON_FROM_S), ("off", OFF_FROM_S))
        ]
    scene = scene_of(url)
    return replace(
        scene,
        house=house,
        habits=SLEEPER,
        meter=replace(scene.meter, rate_hz=RATE_HZ),
        start_spot=practice_house.bed,
        script=script,
        repeat_s=0.0,
    )


def record_night(
    visit: Path,
    url: str,
    now: datetime,
    zone: str,
    on_progress: Callable[[str], None] = lambda _: None,
    is_cancelled: Callable[[], bool] = lambda: False,
    length_s: float = NIGHT_S,
) -> str:
    """Record a night into a visit, as a run of its own; gives a sentence for the user.

    Args:
        visit: an existing visit log that nobody records into.
        url: the practice house, with its control file; neither is changed.
        now: local time with its offset; the night is the last one over by then and before the first run of the visit.
        zone: IANA name of the zone.
        on_progress: is given, in a short text, how far it is.
        is_cancelled: asked once a simulated minute; what was recorded until then is kept.
        length_s: of simulated time.

    Raises:
        StillvoltError: a recorder is at work, or log or house cannot be used.
    """
    scene = night_scene(url)
    log = VisitLog.open(visit)
    try:
        runs = log.runs.all()
    finally:
        log.close()
    # In an evening before all that was recorded: it overlaps nothing, and no value is of a time that is still to come.
    begun = [datetime.fromtimestamp(run.started_utc_ns / NS_PER_S, now.tzinfo) for run in runs]
    start = bedtime(min([now, *begun]), length_s)
    with sole_recorder(visit) as lock:
        start_utc_ns = round(start.timestamp()) * NS_PER_S
        seed = len(runs) + 1  # a second night is not the first one again
        run = FastForward(
            visit,
            scene,
            start_utc_ns,
            zone,
            seed,
            description_of(runs[-1]) if runs else None,
            url,
            scene.start_spot,
        )
        lock.note_running(visit, url, start_utc_ns)
        _take_over_entries(visit, round(now.timestamp() * NS_PER_S))
        for command in BEDTIME_COMMANDS:
            run.send_command(command)
        reason = CANCELLED_REASON
        try:
            until_s = 0.0
            while until_s < length_s and not is_cancelled():
                until_s = min(until_s + PIECE_S, length_s)
                run.run(until_s)
                on_progress(
                    tr("Night: {done} of {whole}").format(
                        done=format_duration(until_s), whole=format_duration(length_s)
                    )
                )
            if until_s >= length_s:
                reason = OVER_REASON
        finally:
            run.end(reason)
    if reason == CANCELLED_REASON:
        return tr(
            "The night was called off after {duration}; that much is kept as a recording of its own."
        ).format(duration=format_duration(until_s))
    where = _entered_spot(visit, start_utc_ns)
    return _recorded(start, start + timedelta(seconds=length_s), where)


def _entered_spot(visit: Path, start_utc_ns: int) -> str:
    """The spot that was entered for the newest night, before it began or while it was recorded; empty for none."""
    log = VisitLog.open(visit)
    try:
        spot = entered_for(night_spot_entries(log), (log.runs.all()[-1].id,), start_utc_ns)
    finally:
        log.close()
    return spot.name if spot is not None and spot.is_known else ""


def _recorded(start: datetime, end: datetime, where: str) -> str:
    """What the user is told of a night that was recorded.

    Args:
        start: of the night, local.
        end: of the night, local.
        where: the spot that was entered for it; empty where none was.
    """
    text = (
        tr(
            "The simulated night of {begin_day} {begin_month} {begin_time} to {end_day} {end_month} {end_time} was "
            "recorded. The person slept at “{bed}”. It stands under the last evening before this visit: a whole night "
            "had to be over by now. The stage Night sums it up."
        )
        if where
        else tr(
            "The simulated night of {begin_day} {begin_month} {begin_time} to {end_day} {end_month} {end_time} was "
            "recorded. At which spot the person slept was not entered: enter it on the stage Night. It "
            "stands under the last evening before this visit: a whole night had to be over by now."
        )
    )
    return text.format(
        begin_day=start.day,
        begin_month=month_text(start),
        begin_time=f"{start:%H:%M}",
        end_day=end.day,
        end_month=month_text(end),
        end_time=f"{end:%H:%M}",
        bed=where,
    )


def _take_over_entries(visit: Path, now_utc_ns: int) -> None:
    """Keep what was entered for the night to come with the night that begins, which is dated to an earlier evening.

    It is of this night, and neither of the recording in which it was entered nor of the next night.

    Args:
        visit: the visit log; its newest run is that of the night.
        now_utc_ns: when the night begins, by the computer's clock.
    """
    log = VisitLog.open(visit)
    try:
        run_id = log.runs.all()[-1].id
        _take_over(log, night_entries(log), keep_night_entry, run_id, now_utc_ns)
        _take_over(log, night_spot_entries(log), keep_night_spot, run_id, now_utc_ns)
    finally:
        log.close()


def _take_over(
    log: VisitLog,
    entries: Sequence[NightEntry[Value]],
    keep: Callable[[VisitLog, NightEntry[Value]], None],
    run_id: int,
    now_utc_ns: int,
) -> None:
    """The same for the entries of one kind."""
    ahead = [entry for entry in entries if entry.is_of((), now_utc_ns)]
    if not ahead or ahead[-1].value is None:
        return
    keep(log, NightEntry(ahead[-1].value, run_id, is_ahead=False))
    keep(log, NightEntry(None, ahead[-1].run_id, is_ahead=True))
