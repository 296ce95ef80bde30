"""What a step of the sweep had on is not shown as what is on once its stage is left."""

from __future__ import annotations

from tests.support.swept_window import House, add_circuits


def test_the_condition_of_a_step_is_asked_anew_once_the_stage_is_left(house: House) -> None:
    window = house.driver.window
    sweep, snapshot = window.sweep_controller, window.controller.snapshot
    add_circuits(house)
    window.controller.refresh(force=True)
    sweep.switched()
    step = snapshot.condition
    assert step
    assert sweep.cancel_waiting()
    window.refresh()
    assert snapshot.condition == step, "the sweep goes on"
    house.driver.do("stage.spots")
    window.refresh()
    assert snapshot.condition == ""
    assert house.log.facts.condition().condition == ""
    assert window.readout.condition_text() == "What is on? It ended with the sweep: enter it again"
    assert "(first enter again what is on)" in window.action_bar.text()
    house.driver.do("measure.condition")
    text = house.driver.window.question.question.text
    assert text.startswith("What the last step of the sweep had on counts no longer.")
