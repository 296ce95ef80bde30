"""The answer to a breaker sweep in words, as `stillvolt sources` prints it."""

from __future__ import annotations

from logger.cautions import PANEL_CAUTIONS
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import SweepAnswer
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.readings import Sweep


def answer_text(found: SweepAnswer, sweep: Sweep, keep: frozenset[str], target_volts: float) -> str:
    """The answer for a reader: effects, tonight's list beside the plain rule, what to read next, cautions.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
        keep: names of the circuits that must stay on.
        target_volts: the level to stay below.
    """
    lines = [f"Background {found.background_volts:.2f} V"]
    for circuit in sorted(found.circuits, key=lambda c: -c.volts):
        leg = f", leg {circuit.leg}" if circuit.leg else ""
        stays = ", stays on" if circuit.name in keep else ""
        lines.append(
            f"  {circuit.name}: {circuit.volts:.3f} V ± {COVERAGE_FACTOR * circuit.u_volts:.3f} V{leg}{stays}"
        )
    off = ", ".join(found.off_tonight) or "nothing"
    meets = "meets" if found.predicted_volts <= target_volts else "does not meet"
    lines.append(
        f"Tonight switch off: {off}. Predicted {found.predicted_volts:.3f} V "
        f"± {COVERAGE_FACTOR * found.u_predicted_volts:.3f} V, which {meets} the target of {target_volts:g} V."
    )
    if found.unplug_tonight:
        lines.append(f"And unplug: {', '.join(found.unplug_tonight)}.")
    for breaker, cords in found.unplug_instead or ():
        lines.append(f"Instead of switching {breaker} off you may unplug {', '.join(cords)}.")
    if found.relies_on_cancellation:
        lines.append(
            "This relies on live circuits that cancel each other, which another posture undoes. Without that: "
            f"{', '.join(found.off_robust) or 'nothing'} (predicted {found.predicted_robust_volts:.3f} V)."
        )
    plain = ", ".join(plain_rule(sweep, keep, target_volts)) or "nothing"
    lines.append(f"The plain rule (each that alone gives more than {target_volts:g} V) would say: {plain}.")
    if found.ambiguous:
        live = ", ".join(found.next_readings[0]) or "nothing"
        lines.append(f"The readings leave this open. Next, take one reading with only these live: {live}.")
    else:
        lines.append("Switch these off and take one reading: it is part of the answer.")
    return "\n".join([*lines, *PANEL_CAUTIONS])
