"""How far the rod may be off: by its check for what that holds for, and by the usual bound for the rest."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from logger.report.document.report_data import ReportData
from logger.report.document.sections.reference import _of_rod


def read(number: int, *, proved: bool) -> SimpleNamespace:
    """A reading against a rod; the check of the rod held for it or not."""
    state = SimpleNamespace(rod_proved=proved, rod_volts=0.029 if proved else 0.05)
    context = SimpleNamespace(
        reference_state=lambda: state, setup_as_known=SimpleNamespace(reference="earth rod")
    )
    return SimpleNamespace(id=number, context=context)


def sentences(readings: list[SimpleNamespace], nights: list[SimpleNamespace]) -> str:
    """What the section says of the rod."""
    data = SimpleNamespace(
        valid_readings=readings, nights=[SimpleNamespace(night=night) for night in nights], checks=()
    )
    return " ".join(_of_rod(cast(ReportData, data)))


def test_what_the_check_of_the_rod_no_longer_holds_for_is_named_with_its_own_bound() -> None:
    checked = [read(number, proved=True) for number in (1, 2)]
    assert "up to 0.029 V" in sentences(checked, []) and "0.05" not in sentences(checked, [])
    later = sentences([*checked, read(3, proved=False)], [read(0, proved=True), read(0, proved=False)])
    assert "up to 0.029 V" in later, "the later night does not take it from the readings"
    assert (
        "does not hold for reading 3 and night 2, so there the rod is counted as off by up to 0.05 V" in later
    )


def test_without_any_check_of_the_rod_the_usual_bound_stands_once() -> None:
    text = sentences([read(1, proved=False)], [read(0, proved=False)])
    assert text.startswith("No second rod proved the rod: it is counted as off by up to 0.05 V")
    assert text.count("0.05 V") == 1
