"""A form is checked by the rules of the file: every mistake at its field, and what is right gives the same meter."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.meter.description_folder import list_descriptions, load, replace_description, save, set_aside
from logger.meter.description_form import check_form
from logger.meter.description_toml import as_toml, form_values, from_toml

RANGE = {"up_to_volts": 0.6, "percent_of_reading": 1.0, "counts": 3.0, "resolution_volts": 1e-4}
PLATE = MeterDescription("Bench", make="Maker", model="M-1", serial_number="0042")


def test_plate_and_ranges_go_through_file_and_form_unchanged() -> None:
    ranged = MeterDescription("Bench", accuracy=(Accuracy(**RANGE),), assumed=frozenset({"calibrated_on"}))
    for description in (PLATE, ranged, MeterDescription("Bench")):
        kept = from_toml(as_toml(description), Path("Bench.toml"))
        found, mistakes = check_form(form_values(description))
        assert not mistakes and found == kept
    assert check_form(form_values(PLATE))[0] == PLATE


def test_every_mistake_of_a_form_is_named_at_its_own_field() -> None:
    values: dict[str, Any] = {
        "name": "a/b",
        "meter": {
            "make": "x" * 1000,
            "input_resistance_ohm": 1.0,
            "true_rms": "yes",
            "serial_number": "a\u202eb",
        },
        "accuracy": [
            RANGE,
            RANGE | {"counts": -1.0},
            RANGE | {"up_to_volts": 0.5},
            {"up_to_volts": 7.0},
            RANGE | {"up_to_volts": 60.0, "specified_from_volts": 70.0},
        ],
    }
    before = repr(values)
    found, mistakes = check_form(values)
    assert found is None and repr(values) == before
    assert {mistake.path for mistake in mistakes} == {
        ("name",),
        ("meter", "make"),
        ("meter", "input_resistance_ohm"),
        ("meter", "true_rms"),
        ("meter", "serial_number"),
        ("accuracy", 1, "counts"),
        ("accuracy", 2, "up_to_volts"),
        ("accuracy", 3, "percent_of_reading"),
        ("accuracy", 4, "specified_from_volts"),
    }
    assert all(mistake.why.endswith(".") and len(mistake.why) < 150 for mistake in mistakes)


@pytest.mark.parametrize("name", ["", " ", 7, None, "🙂" * 70, "x" * 10_000, "a\u202eb", ".hidden", "a\x00"])
def test_a_name_that_no_file_can_have_is_explained(name: object) -> None:
    found, mistakes = check_form({"name": name})
    assert found is None and [mistake.path for mistake in mistakes] == [("name",)]


@pytest.mark.parametrize(("key", "text"), [("make", "x" * 101), ("model", "a\\tb"), ("serial_number", "")])
def test_a_file_is_held_to_the_same_rules(key: str, text: str) -> None:
    with pytest.raises(StillvoltError, match=rf"line 3: meter.{key}"):
        from_toml(f'name = "Bench"\n[meter]\n{key} = "{text}"\n', Path("Bench.toml"))


def test_a_description_that_is_taken_off_the_list_is_kept_aside(tmp_path: Path) -> None:
    save(PLATE, tmp_path)
    content = (tmp_path / "Bench.toml").read_text()
    (tmp_path / "Bench.toml.1").write_text("an older one")
    assert set_aside("Bench", tmp_path) == tmp_path / "Bench.toml.2"
    assert (tmp_path / "Bench.toml.2").read_text() == content and not list_descriptions(tmp_path)
    with pytest.raises(StillvoltError, match="Nothing was changed"):
        set_aside("Bench", tmp_path)


def test_a_renamed_description_replaces_no_other(tmp_path: Path) -> None:
    save(PLATE, tmp_path)
    save(MeterDescription("Other"), tmp_path)
    with pytest.raises(StillvoltError, match="kept already"):
        replace_description("Bench", MeterDescription("Other", make="Maker"), tmp_path)
    assert load("Other", tmp_path) == MeterDescription("Other") and load("Bench", tmp_path) == PLATE
    replace_description("Bench", MeterDescription("Third"), tmp_path)
    assert list_descriptions(tmp_path) == ["Other", "Third"] and (tmp_path / "Bench.toml.1").exists()
