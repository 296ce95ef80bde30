"""A visit log in a fresh folder, and a recorder's writer on it, with time set by hand."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import Event, Motion, Now, State
from logger.visit import VisitLog
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter


class Recording:
    """A run that a test fills by hand, from the port with that URL."""

    def __init__(self, path: Path, clock: ManualClock, port: str = "/dev/ttyUSB0") -> None:
        self.path = path
        self.clock = clock
        self.port = port
        self.counts = Counts()
        self.start()

    def start(self, port: str = "", settings: str = "{}") -> None:
        """Begin a run, as a recorder does."""
        self.writer = RunWriter(
            self.path,
            utc_ns=self.clock.utc_ns(),
            zone="Europe/Vienna",
            utc_offset_s=3600,
            port=port or self.port,
            settings=settings,
            software="test",
            pid=1,
        )
        self.started_ns = self.clock.steady_ns()

    def t_s(self) -> float:
        """Seconds since the run began."""
        return (self.clock.steady_ns() - self.started_ns) / NS_PER_S

    def beat(self, batch: Batch, now: Now, open_events: list[Event] | None = None) -> None:
        """Write a batch with its heartbeat."""
        t_ns = self.clock.steady_ns() - self.started_ns
        self.writer.write(
            batch, Heartbeat(self.clock.utc_ns(), t_ns, "open", "", now, open_events or [], self.counts, "")
        )

    def lose_port(self, message: str) -> None:
        """Say that the port is gone, while the detector still holds its last value."""
        t_ns = self.clock.steady_ns() - self.started_ns
        now = Now(State.SETTLED, self.t_s() - 2.0, 0.3, 0.01, 5)
        self.writer.write(
            Batch(), Heartbeat(self.clock.utc_ns(), t_ns, "lost", message, now, [], self.counts, "")
        )

    def samples(
        self,
        volts: list[float],
        state: State = State.SETTLED,
        u_volts: float = 0.01,
        since_s: float | None = None,
        moved: bool = True,
    ) -> None:
        """One sample each 0.4 s, the last of them in `state`, since the first of them or since a moment of the run.

        Args:
            volts: the samples.
            state: in which the trace is after them.
            u_volts: standard uncertainty of the level, where it is settled.
            since_s: since when it is in that state; None: since the first of them, and the body moved before.
            moved: False where nobody moved before a state that begins with them.
        """
        # The newest motion is still open while the level after it is not certain.
        motion = Motion(self.t_s(), self.t_s() + 0.2, 2.0, self.t_s() + 0.2)
        open_events: list[Event] = [motion] if since_s is None and moved else []
        since_s = self.t_s() + 0.4 if since_s is None else since_s
        for value in volts:
            self.clock.advance_ns(400_000_000)
            self.counts.volts += 1
            line = (self.clock.utc_ns(), self.clock.steady_ns() - self.started_ns, "volts", value, b"x")
            level = sum(volts) / len(volts) if state is State.SETTLED else value
            settled_u = u_volts if state is State.SETTLED else None
            self.beat(Batch(lines=[line]), Now(state, since_s, level, settled_u, len(volts)), open_events)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock()


@pytest.fixture
def log(tmp_path: Path, clock: ManualClock) -> Iterator[VisitLog]:
    log = VisitLog.create(tmp_path / "house.visit", clock)
    yield log
    log.close()


@pytest.fixture
def recording(log: VisitLog, clock: ManualClock) -> Iterator[Recording]:
    recording = Recording(log.path, clock)
    yield recording
    recording.writer.close()


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Moves this computer to another time zone."""
    if not hasattr(time, "tzset"):
        pytest.skip("Windows has no tzset")

    def move(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield move
    monkeypatch.undo()
    time.tzset()


def exchange_names(log: VisitLog, one: int, other: int) -> None:
    """Exchange the names of two circuits, as somebody does who puts the labels of a panel right."""
    names = {source.id: source.name for source in log.circuits.all()}
    log.circuits.rename(one, "for a moment")
    log.circuits.rename(other, names[one])
    log.circuits.rename(one, names[other])
