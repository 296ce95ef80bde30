"""How a value is rounded: with its uncertainty on screen and in the report, and as it stands on the form.

With its uncertainty: the uncertainty has at most two digits, and the value ends at the same place (GUM 7.2.6).
On the form: `0.9 (0.05)` is 0.9 V with everything on and 0.05 V with everything off, rounded as the trade does it
(common practice, no source): one decimal, below 0.1 V two. The log keeps every digit.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from logger.translation import decimal_sign, shown_number, with_percent

TWO_DIGITS_FROM_VOLTS = ((0.0095, 3), (0.995, 2), (9.95, 1))
"""Under which expanded uncertainty how many decimals are shown; from the last on none. No more than the millivolts
that a meter shows, and hundredths of a volt where two digits allow them, as the trade reads them."""

_TWO_DIGITS = 99.5
"""Units of its last place under which an uncertainty is rounded to two digits at most."""

DECIMALS_WITHOUT_UNCERTAINTY = 2
"""Decimals of a value whose uncertainty is not known."""

ONE_DECIMAL_FROM_VOLTS = 100.0
"""From which size such a value has one decimal only."""

TWO_DECIMALS_BELOW_VOLTS = Decimal("0.1")


MINUS = "\N{MINUS SIGN}"
"""The sign of a negative number that people read; files that programs read have the hyphen."""


class Rounded(NamedTuple):
    """A value and its expanded uncertainty as they are shown, without unit."""

    volts: str
    expanded: str
    """Empty where the uncertainty is not known."""


def rounded(volts: float, expanded_volts: float | None = None) -> Rounded:
    """Round a value with its uncertainty: the one rule, so that one value has the same figures wherever it stands.

    Both are rounded once, from all their digits, halves up; an uncertainty is never shown as zero.

    Args:
        volts: the value, V.
        expanded_volts: its expanded uncertainty, V; None where it is not known.
    """
    if expanded_volts is None:
        fewer = abs(volts) >= ONE_DECIMAL_FROM_VOLTS
        return Rounded(_half_up(volts, DECIMALS_WITHOUT_UNCERTAINTY - fewer), "")
    return _to_decimals(volts, expanded_volts, decimals_shown(expanded_volts))


class RoundedChange(NamedTuple):
    """Two values and their difference as they are shown in one row, without unit."""

    before: Rounded
    after: Rounded
    difference: Rounded


def rounded_change(
    before: tuple[float, float], after: tuple[float, float], difference_expanded_volts: float
) -> RoundedChange:
    """Round two values and their difference, each by the one rule (`rounded`), so that the figures agree.

    Where all three end at the same place, the difference is that of the printed values: what rounding leaves of it, one
    unit of that place at most, goes into the difference, whose uncertainty is wider. So it does where a value ends at a
    finer place than the difference. Only where the printed difference would lose what the real one has, being more than
    its uncertainty, all have one more decimal, as far as each uncertainty has no more than two digits then.

    Args:
        before: the earlier value and its expanded uncertainty, V.
        after: the later value and its expanded uncertainty, V.
        difference_expanded_volts: the expanded uncertainty of after minus before, V.
    """
    all_expanded = (before[1], after[1], difference_expanded_volts)
    change = after[0] - before[0], difference_expanded_volts
    places = set(map(decimals_shown, all_expanded))
    if len(places) > 1:
        first, second, moved = rounded(*before), rounded(*after), rounded(*change)
        place = Decimal(1).scaleb(-decimals_shown(difference_expanded_volts))
        printed = difference_as_shown(first.volts, second.volts)
        values_are_finer = difference_expanded_volts >= max(before[1], after[1])
        if values_are_finer and 2 * abs(printed - as_number(moved.volts)) > place:
            moved = moved._replace(volts=_as_text(printed.quantize(place, ROUND_HALF_UP)))
        return RoundedChange(first, second, moved)
    decimals = places.pop()
    least = _decimal(difference_expanded_volts, decimals)
    is_lost = abs(change[0]) > difference_expanded_volts and (
        abs(_decimal(after[0], decimals) - _decimal(before[0], decimals)) <= least
    )
    if is_lost and all(expanded < _TWO_DIGITS * 10.0 ** -(decimals + 1) for expanded in all_expanded):
        decimals += 1
    printed = _decimal(after[0], decimals) - _decimal(before[0], decimals)
    return RoundedChange(
        _to_decimals(*before, decimals),
        _to_decimals(*after, decimals),
        _to_decimals(float(printed), difference_expanded_volts, decimals),
    )


def share_of_shown(part: Rounded, whole: Rounded) -> str:
    """What share a value is of another, of the figures that are shown of both, so that it can be worked out from them.

    Args:
        part: the one, as it is shown.
        whole: the other, as it is shown.
    """
    one, other = (as_number(figures.volts) for figures in (part, whole))
    if not other:
        return ""
    return with_percent(f"{min(100 * one / other, Decimal(100)).quantize(Decimal(1), ROUND_HALF_UP)}%")


def decimals_shown(expanded_volts: float) -> int:
    """How many decimals a value has by its uncertainty, and what is shown beside it without one of its own.

    Args:
        expanded_volts: the expanded uncertainty, V.
    """
    return next((n for under, n in TWO_DIGITS_FROM_VOLTS if expanded_volts < under), 0)


def _to_decimals(volts: float, expanded_volts: float, decimals: int) -> Rounded:
    """Round a value and its uncertainty to some decimals; the uncertainty is never zero."""
    return Rounded(_half_up(volts, decimals), _half_up(max(expanded_volts, 10.0**-decimals), decimals))


def _decimal(volts: float, decimals: int) -> Decimal:
    """A number to some decimals; the decision is made on the shortest decimal that stands for it."""
    return Decimal(repr(float(volts))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


def _half_up(volts: float, decimals: int) -> str:
    """A number to some decimals, as text."""
    return _as_text(_decimal(volts, decimals))


def _as_text(number: Decimal) -> str:
    """A number with all its figures."""
    return _shown(f"{number if number else abs(number):f}")  # no minus before a zero


def difference_as_shown(before: str, after: str) -> Decimal:
    """After minus before, of the figures that are shown of both: what a reader works out who sees them side by side.

    Args:
        before: the earlier value as it is shown, without unit.
        after: the later value as it is shown, without unit.
    """
    return as_number(after) - as_number(before)


def signed_as_shown(change: Decimal) -> str:
    """A change with its sign and all its figures: '+0.57', '−0.81'.

    Args:
        change: as `difference_as_shown` gives it.
    """
    return _shown(f"{change:+f}")


def as_shown(change: Decimal) -> str:
    """A change with all its figures, without a plus: '0.57', '−0.81'.

    Args:
        change: as `difference_as_shown` gives it.
    """
    return _as_text(change)


def as_number(text: str) -> Decimal:
    """A number from how it is shown.

    Args:
        text: as `fixed`, `signed` and `rounded` give it.
    """
    return Decimal(ascii_minus(text).replace(decimal_sign(), "."))


def _shown(text: str) -> str:
    """A number as people read it: with a true minus, and the decimal sign of the language that holds."""
    return shown_number(text.replace("-", MINUS))


def fixed(number: float, decimals: int) -> str:
    """A number that people read, to some decimals: '0.17', '−0.17'.

    Args:
        number: as it is.
        decimals: how many are shown.
    """
    return _shown(f"{number:.{decimals}f}")


def signed(number: float, decimals: int) -> str:
    """A change that people read, with its sign: '+0.17', '−0.17'.

    Args:
        number: as it is.
        decimals: how many are shown.
    """
    return _shown(f"{number:+.{decimals}f}")


def plain(number: float) -> str:
    """A number that somebody has stated, with the digits that it has: '0.1', '12'.

    Args:
        number: as it is; no more than six digits are shown.
    """
    return _shown(f"{number:g}")


def grouped(number: int) -> str:
    """A number of things that people read, its thousands parted: '1,204'; where a comma parts decimals, by a space.

    Args:
        number: how many.
    """
    text = f"{number:,}"
    return text if decimal_sign() == "." else text.replace(",", "\N{NARROW NO-BREAK SPACE}")


def ascii_minus(text: str) -> str:
    """A sentence with numbers as it is kept as data: with the minus of ASCII."""
    return text.replace(MINUS, "-")


def printed_minus(text: str) -> str:
    """A sentence that was kept as data, as people read it: with a true minus before a number."""
    return re.sub(r"(?<![\w.,-])-(?=\d)", MINUS, text)


def sign_of(number: float) -> str:
    """The sign of a change that people read."""
    return MINUS if number < 0 else "+"


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
    return _shown(f"{rounded:f}")


def form_pair(on_volts: float | None, off_volts: float | None) -> str:
    """On and, in parentheses, off; a dash stands for what was not read."""
    if on_volts is None and off_volts is None:
        return ""
    on = "–" if on_volts is None else form_volts(on_volts)
    return on if off_volts is None else f"{on} ({form_volts(off_volts)})"
