"""A swept home in which remedies are planned, done and read again; time goes on by a minute with each step."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.plan.remedy_plan import remedy_plan_of
from logger.sweep.sweep_progress import combination_as_at_night
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.support.swept_home import LEGS, Home

CORDS = {"Lamp": "Bedroom"}
COUPLINGS = {
    "left": {"Bedroom": 0.3, "Light": 0.1, "Study": 0.02, "Lamp": 0.8},
    "right": {"Bedroom": 0.2, "Light": 0.1, "Hall": 0.9},
}


class PlannedHome(Home):
    """A home with a bed of two sides, a lamp on the left one and a hall that reaches the right one.

    Args:
        log: the visit log.
        clock: of the log.
        couplings: pF of each circuit and cord at each spot.
        others: further arguments of `Home`.
    """

    def __init__(self, log, clock, couplings=None, **others):
        super().__init__(log, couplings or COUPLINGS, LEGS, CORDS, **others)
        self.clock = clock
        self.gone = set()

    def read(self, combination, spot, shift_volts=0.0):
        """Take a reading, a minute after what came before it."""
        self.clock.advance_ns(60 * NS_PER_S)
        volts = self.volts(combination.live - self.gone, spot)
        return self.log.readings.enter(
            self.spots[spot].id,
            combination.label,
            round(volts + shift_volts, 3),
            0.002,
            live=combination.live,
        )

    def done(self, kind, *names, spot=None, **entry):
        """Enter a remedy as done; what is unplugged for good is gone from then on."""
        self.clock.advance_ns(60 * NS_PER_S)
        ids = [self.ids[name] for name in names]
        if kind is RemedyKind.UNPLUG:
            self.gone |= set(ids)
        return self.log.remedies.add(
            kind, RemedyEntry(0, RemedyDecision.DONE, **entry), ids, self.spots[spot].id if spot else None
        )

    def read_without(self, spot, *names, shift_volts=0.0):
        """Read a spot with everything on but what is named."""
        sources = self.log.circuits.all()
        off = [self.ids[name] for name in names if name not in self.cords]
        out = [self.ids[name] for name in names if name in self.cords]
        return self.read(combination_as_at_night(off, sources, out), spot, shift_volts)

    def plan(self):
        """The plan of remedies as it is now."""
        return remedy_plan_of(self.log)

    def remedy(self, remedy):
        """A remedy of the plan as it is now."""
        return next(r for r in self.plan().remedies if r.kept is not None and r.kept.id == remedy.id)
