"""Battery and charger through a night, with what the system says given by hand."""

from __future__ import annotations

from logger.recording.watch.power import POLL_EVERY_S, Power, PowerWatch


class Laptop:
    """A laptop whose battery a test drives."""

    def __init__(
        self, percent: float = 87.0, plugged_in: bool | None = False, left_s: float | None = None
    ) -> None:
        self.now: Power | None = Power(plugged_in, percent, left_s)
        self.asked = 0
        self.time_s = 0.0
        self.watch = PowerWatch(self.ask)

    def ask(self) -> Power | None:
        self.asked += 1
        return self.now

    def look(
        self, percent: float, plugged_in: bool | None = False, left_s: float | None = None
    ) -> list[tuple[str, str]]:
        self.time_s += POLL_EVERY_S
        self.now = Power(plugged_in, percent, left_s)
        return [(change.kind, change.message) for change in self.watch.poll(self.time_s)]


def test_the_start_says_how_full_it_is_and_how_long_it_lasts():
    laptop = Laptop(left_s=15_000.0)
    (change,) = laptop.watch.poll(0.0)
    assert change.kind == "battery" and "87 %" in change.message and "4 h 10 min" in change.message


def test_a_start_on_the_charger_says_what_that_means():
    (change,) = Laptop(plugged_in=True).watch.poll(0.0)
    assert change.kind == "charger" and "building's wiring" in change.message


def test_a_charger_plugged_in_and_out_is_told_each_time():
    laptop = Laptop()
    laptop.watch.poll(0.0)
    assert laptop.look(87) == []
    ((kind, message),) = laptop.look(87, plugged_in=True)
    assert kind == "charger" and message.startswith("The charger was plugged in: it ties the laptop")
    assert laptop.look(87, plugged_in=True) == []
    ((kind, message),) = laptop.look(88)
    assert kind == "charger" and "was unplugged" in message


def test_every_ten_percent_is_told_once_even_if_the_value_flickers():
    laptop = Laptop()
    laptop.watch.poll(0.0)
    told = [
        (percent, kind)
        for percent in (86, 81, 80, 81, 80, 79, 71, 70, 71, 69.6)
        for kind, _ in laptop.look(percent)
    ]
    assert told == [(80, "battery"), (70, "battery")]
    laptop.look(69, plugged_in=True)
    rising = [percent for percent in (71, 79, 80, 79, 80, 90) for _ in laptop.look(percent, plugged_in=True)]
    assert rising == [80, 90]


def test_a_night_from_full_to_empty_tells_each_ten_and_warns_from_twenty():
    laptop = Laptop(100)
    laptop.watch.poll(0.0)
    told = [(round(p), kind) for p in (100 - 0.1 * i for i in range(1, 1000)) for kind, _ in laptop.look(p)]
    low = "laptop battery low"
    assert [kind for _, kind in told] == ["battery"] * 7 + [low] * 2
    assert [percent for percent, _ in told] == [90, 80, 70, 60, 50, 40, 30, 20, 10]


def test_where_the_system_gives_no_estimate_its_fall_tells_how_long_it_lasts():
    laptop = Laptop(40)
    laptop.watch.poll(0.0)
    laptop.time_s = 7200.0 - POLL_EVERY_S
    ((kind, message),) = laptop.look(20)
    assert kind == "laptop battery low" and "about 2 h" in message and "kept" in message


def test_the_system_is_asked_every_few_seconds_only():
    laptop = Laptop()
    for tenth in range(600):
        laptop.watch.poll(tenth / 10)
    assert laptop.asked == 60 / POLL_EVERY_S


def test_a_computer_without_a_battery_says_nothing():
    laptop = Laptop()
    laptop.now = None
    assert laptop.watch.poll(0.0) == []
