"""How a value stands on the form: `0.9 (0.05)` is 0.9 V with everything on and 0.05 V with everything off.

Rounding as the trade does it (common practice, no source): one decimal, below 0.1 V two. The log keeps every digit.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

TWO_DECIMALS_BELOW_VOLTS = Decimal("0.1")


def form_volts(volts: float) -> str:
    """A voltage as it stands on the form, without its unit.

    Halves go up, and the decision is made on the shortest decimal that stands for the number, so that 0.25 gives
    0.3 whatever the binary fraction is.
    """
    exact = Decimal(repr(float(volts)))
    step = Decimal("0.01") if abs(exact) < TWO_DECIMALS_BELOW_VOLTS else Decimal("0.1")
    rounded = exact.quantize(step, ROUND_HALF_UP)
    if step == Decimal("0.01") and abs(rounded) >= TWO_DECIMALS_BELOW_VOLTS:
        rounded = rounded.quantize(Decimal("0.1"), ROUND_HALF_UP)  # 0.097 is 0.1, not 0.10
    return f"{rounded:f}"


def form_pair(on_volts: float | None, off_volts: float | None) -> str:
    """On and, in parentheses, off; a dash stands for what was not read."""
    if on_volts is None and off_volts is None:
        return ""
    on = "–" if on_volts is None else form_volts(on_volts)
    return on if off_volts is None else f"{on} ({form_volts(off_volts)})"
