"""What a circuit or cord gives at a spot, as the first page has it: one figure of one thing, with its spot."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.report.document.report_data import ReportData
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import better_of
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.translation import tr


@dataclass(frozen=True, slots=True)
class Amount:
    """What a circuit or cord gives at a spot.

    Args:
        volts: as it is shown, V.
        u_volts: its standard uncertainty, V.
        spot: name of the spot; empty where it is not known.
        confirmed: switching it on and off has confirmed it.
        read: it is the reading with just that breaker on, not worked out from several.
        estimate: something is still to be read before it is certain.
        stays: it must stay on.
        simulated: the switching that confirmed it was simulated.
    """

    volts: float
    u_volts: float
    spot: str
    confirmed: bool = False
    read: bool = False
    estimate: bool = False
    stays: bool = False
    simulated: bool = False

    @property
    def at_spot(self) -> str:
        """With its spot: '1.98 V at “Bed”'."""
        if not self.spot:
            return tr("{volts} V").format(volts=fixed(self.volts, 2))
        text = tr("about {volts} V at “{spot}”") if self.estimate else tr("{volts} V at “{spot}”")
        return text.format(volts=fixed(self.volts, 2), spot=self.spot)


def amount_at(spot: SpotPlan, given: SourceContribution, data: ReportData) -> Amount:
    """What a circuit or cord gives at a swept spot, by `better_of`: two figures of one thing would be a riddle.

    Args:
        spot: the plan there.
        given: what the readings of the sweep give of it.
        data: of the report.
    """
    best = better_of(given, data.effects.get((spot.spot_id, given.source.id)))
    stays = bool(given.source.stays)
    if isinstance(best, Effect):
        return _of_effect(best, spot.name, stays)
    doubted = bool(given.doubt)
    if (alone := given.alone) is not None and _agree(alone, given):
        # As what the circuit gives it is no more certain than the model knows it.
        return Amount(alone.volts, given.u_volts, spot.name, read=True, estimate=doubted, stays=stays)
    return Amount(given.volts, given.u_volts, spot.name, estimate=doubted, stays=stays)


def _agree(alone: Budget, given: SourceContribution) -> bool:
    """Whether the reading with only that breaker on tells what it gives: what else was on adds less than U to it.

    Where many readings bear the model out so well that it is narrower than the reading, the model's own value stands.
    """
    return (
        given.volts > COVERAGE_FACTOR * given.u_volts >= alone.expanded_volts
        and abs(alone.volts - given.volts) <= COVERAGE_FACTOR * given.u_volts
    )


def highest_amounts(data: ReportData) -> dict[str, Amount]:
    """What each circuit and cord gives where it gives most, by its name; what switching has confirmed comes first."""
    swept: dict[str, Amount] = {}
    confirmed: dict[str, Amount] = {}
    for spot in data.tonight.spots if data.tonight else ():
        for given in spot.contributions:
            _keep_highest(swept, given.source.name, amount_at(spot, given, data))
    for (spot_id, source_id), effect in data.effects.items():
        source = data.every_source.get(source_id)
        if source is not None and effect.is_confirmed_rise:
            at = data.every_spot_name.get(spot_id, "") if spot_id is not None else ""
            _keep_highest(confirmed, source.name, _of_effect(effect, at, bool(source.stays)))
    return swept | confirmed


def _keep_highest(amounts: dict[str, Amount], name: str, amount: Amount) -> None:
    if name not in amounts or amount.volts > amounts[name].volts:
        amounts[name] = amount


def _of_effect(effect: Effect, spot: str, stays: bool) -> Amount:
    return Amount(effect.volts, effect.u_volts, spot, confirmed=True, stays=stays, simulated=effect.simulated)
