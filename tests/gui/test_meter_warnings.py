"""What is wrong with the meter stands in the window as long as it lasts, and keeps a frozen value from being taken."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from gui.dev.demo import DemoRecorder
from gui.model.status import Offer, status
from gui.model.visit_controller import VisitController
from logger.clock import ManualClock
from logger.meter.battery_watch import BATTERY_LOW
from logger.metrology.context import BATTERY_LOW_REMARK
from logger.visit import VisitLog
from tests.support.window_driver import Driver


def test_a_frozen_display_is_no_value(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", "everything on")
    demo = record()
    demo.still(0.3, 120)
    demo.still(0.3, 90, noise_volts=0.0)
    driver = open_window()
    told = status(driver.window.controller.snapshot)
    assert (told.word, told.detail, told.u_volts) == ("FROZEN", "is HOLD pressed?", None)
    driver.press("Space")
    assert log.readings.all() == [] and "HOLD" in driver.message
    demo.still(0.3, 5)
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).word == "SETTLED"


def test_a_low_battery_is_told_until_it_is_over_and_hinders_nothing(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", "everything on")
    demo = record()
    for i in range(60):
        demo.lines(b"0.30%d V AC LOW BAT" % (i % 3))
    driver = open_window()
    shown = driver.window.action_bar.message_bar.label
    assert shown.text() == BATTERY_LOW
    assert "not to be trusted" in BATTERY_LOW
    driver.press("Space")
    (reading,) = log.readings.all()
    assert reading.context is not None and BATTERY_LOW_REMARK in reading.context.remarks(reading.volts)
    assert shown.text().startswith(f"{BATTERY_LOW}\nTaken")
    demo.still(0.3, 5)
    driver.window.refresh()
    assert shown.text().startswith("Taken")


def test_a_knob_on_dc_says_what_to_do(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    demo = record()
    demo.lines(*[b"0.300 V DC"] * 5)
    driver = open_window()
    assert "switch it to AC" in driver.window.controller.snapshot.refusal


def test_a_value_that_wanders_slowly_asks_to_hold_still_for_longer(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    log.spots.add("Bed")
    demo = record()
    random, wander, kept = np.random.default_rng(6), 0.0, np.exp(-0.2 / 8.0)
    for _ in range(50):
        wander = kept * wander + np.sqrt(1 - kept**2) * random.standard_normal()
        demo.lines(b"%.4f V AC" % (0.5 + 0.012 * wander))
        live = log.recorder.live()
        if live is not None and live.growing_span is not None and live.growing_span.hold_longer_s:
            break
    driver = open_window()
    assert status(driver.window.controller.snapshot).detail.startswith("steady for ")
    shown = driver.window.readout._status
    assert (shown.word, shown.detail[:17]) == ("SETTLED", "take it, or hold ")
    bar = driver.window.action_bar.message_bar.label
    assert (
        bar.text()
        == "It can be taken now. The value wanders slowly. If you hold still for longer, its ± may get smaller."
    )
    shown_s = [int(shown.detail.split()[5])]
    for _ in range(200):
        demo.lines(b"%.4f V AC" % (0.5 + 0.012 * wander + 0.001 * random.standard_normal()))
        driver.window.controller.refresh()
        detail = status(driver.window.controller.snapshot, Offer.MAY_TAKE).detail
        if detail.startswith("take it"):
            shown_s.append(int(detail.split()[5]))
    assert all(0 <= before - after <= 1 for before, after in pairwise(shown_s)), "it falls with the seconds"
    driver.window.refresh()
    assert "holding still" not in bar.text()
    driver.press("Space")
    driver.window.refresh()
    assert driver.window.readout._status.detail == "answer the question at the right", "it is taken already"
    assert driver.window.action_bar.why_not() and "can be taken" not in bar.text()


def test_the_seconds_of_a_state_begin_when_it_is_first_shown(
    record: Callable[[], DemoRecorder], log: VisitLog, clock: ManualClock
) -> None:
    """A settled span begins before it is known to be one, so that the count once jumped by what was settling."""
    demo, controller = record(), VisitController(log, clock)
    demo.still(0.3, 10.0)
    demo.move(0.3, 2.0, 3.0)
    controller.refresh()
    before = "CHANGING", 0.0
    for _ in range(60):
        demo.still(0.5, 0.2)
        controller.refresh()
        now = status(controller.snapshot).word, controller.snapshot.still_s
        assert now[0] == before[0] or now[1] < 1.0, (before, now)
        before = now
    assert before[0] == "SETTLED" and before[1] > 3.0
