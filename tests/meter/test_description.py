"""Meter descriptions: written, read, edited by hand, and what is wrong in them named by file, line and field."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.meter import description_toml as module
from logger.meter.description import Accuracy, MeterDescription
from logger.meter.description_folder import list_descriptions, load, load_file, save
from logger.meter.description_toml import as_toml
from logger.meter.line_format import LineFormat
from logger.meter.port import PortSettings

FULL = MeterDescription(
    "Bench meter",
    PortSettings("", 2400, 7, "E", 2.0, True, False, query='D"\r', query_every_s=0.25),
    LineFormat(
        "semicolon",
        2,
        4,
        scale=0.001,
        known_words=("X1", 'a"\\b'),
        ignored_fields=(4,),
        overload_words=("9",),
    ),
    (Accuracy(0.6, 1.0, 3.0, 0.0001, specified_from_volts=0.03), Accuracy(6.0, 0.8, 5.0, 0.001)),
    input_resistance_ohm=1e9,
    input_capacitance_farad=30e-12,
    true_rms=True,
    isolated_link=True,
    calibrated_on=datetime.date(2026, 3, 1),
    calibration_interval_months=24,
    assumed=frozenset(),
)


@pytest.mark.parametrize(
    "description",
    [
        FULL,
        MeterDescription("plain"),
        MeterDescription("by key", line=LineFormat(key="v", occurrence=2, occurrences=3)),
        MeterDescription("Zähler 2", PortSettings("", query="READ?")),
    ],
    ids=lambda d: d.name,
)
def test_what_is_written_is_read_back(tmp_path: Path, description: MeterDescription) -> None:
    save(description, tmp_path)
    assert load(description.name, tmp_path) == description
    assert list_descriptions(tmp_path) == [description.name]


def test_what_is_left_out_is_assumed_and_marked() -> None:
    plain = MeterDescription("plain")
    assert plain.input_resistance_ohm == 10e6
    assert plain.assumed == {
        "accuracy", "input_resistance_ohm", "input_capacitance_farad", "true_rms", "isolated_link", "calibrated_on",
    }  # fmt: skip
    assert "# input_resistance_ohm = 1e+07  # assumed" in as_toml(plain)


def test_the_example_of_the_documentation_is_a_description(tmp_path: Path) -> None:
    text = "\n".join(line[4:] for line in (module.__doc__ or "").splitlines() if line.startswith("    "))
    path = tmp_path / "Bench meter.toml"
    path.write_text(text, encoding="utf-8")
    meter = load_file(path)
    assert meter.assumed == frozenset()
    assert meter.line is not None and meter.line.scale == 0.001


def test_the_limit_of_error_at_a_reading() -> None:
    assert FULL.accuracy[0].limit_volts(0.273) == pytest.approx(0.00273 + 0.0003)


def test_an_edited_file_is_never_lost(tmp_path: Path) -> None:
    path = save(MeterDescription("plain"), tmp_path)
    path.write_text(path.read_text() + "# what I found out\n")
    save(FULL, tmp_path)
    save(
        MeterDescription(
            "plain", input_resistance_ohm=1e6, assumed=MeterDescription("").assumed - {"input_resistance_ohm"}
        ),
        tmp_path,
    )
    assert "what I found out" in (tmp_path / "plain.toml.1").read_text()
    assert load("plain", tmp_path).input_resistance_ohm == 1e6
    save(load("plain", tmp_path), tmp_path)
    assert not (tmp_path / "plain.toml.2").exists()


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('name = "m"\n[port]\nbuad = 9600\n', 3, "port.buad is not known"),
        ('name = "m"\nmaker = "x"\n', 2, "maker is not known"),
        ('name = "m"\n[port]\nbaud = "fast"\n', 3, "port.baud must be a whole number"),
        ('name = "m"\n[port]\nbaud = true\n', 3, "port.baud must be a whole number"),
        ('name = "m"\n[port]\nbaud = 1\n', 3, "port.baud must be between 50 and 4000000"),
        ('name = "m"\n[port]\n\nparity = "even"\n', 4, "port.parity must be one of N, E, O, M, S"),
        ('name = "m"\n[port]\nstop_bits = 1.2\n', 3, "port.stop_bits must be 1, 1.5 or 2"),
        ('name = "m"\n[port]\ndtr = 1\n', 3, "port.dtr must be true or false"),
        ('name = "m"\n[query]\nevery_s = 1\n', 2, "query.line is missing"),
        ('name = "m"\n[query]\nline = "A"\nevery_s = 0\n', 4, "query.every_s must be between"),
        ('name = "m"\n[line]\nfield = 2\n', 2, "line.separator is missing"),
        ('name = "m"\n[line]\nseparator = "dot"\n', 3, "line.separator must be one of"),
        ('name = "m"\n[line]\nkey = "v"\nfield = 2\n', 4, "line.field stands beside key"),
        ('name = "m"\n[line]\nkey = "v"\nscale = -1\n', 4, "line.scale must be between"),
        ('name = "m"\n[meter]\ninput_resistance_ohm = nan\n', 3, "input_resistance_ohm must be a number"),
        ('name = "m"\n[meter]\ncalibrated_on = "2026-03-01"\n', 3, "calibrated_on must be a date"),
        (
            'name = "m"\n[[accuracy]]\nup_to_volts = 1\npercent_of_reading = 1\ncounts = 3\n',
            2,
            "resolution_volts is missing",
        ),
        (
            'name = "m"\n'
            + "[[accuracy]]\nup_to_volts = 1\npercent_of_reading = 1\ncounts = 3\nresolution_volts = 1e-3\n" * 2,
            8,
            "up_to_volts is not above",
        ),
        ('name = "other"\n', 1, "but the file is called m.toml"),
        ("port = 3\n" + 'name = "m"\n', 1, "port is a table"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_by_file_line_and_field(
    tmp_path: Path, text: str, line: int, says: str
) -> None:
    path = tmp_path / "m.toml"
    path.write_text(text)
    with pytest.raises(StillvoltError) as error:
        load("m", tmp_path)
    assert f"{path}, line {line}: " in str(error.value)
    assert says in str(error.value)


def test_a_slip_of_the_pen_is_named_by_its_line(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text('name = "m"\n[port\n')
    with pytest.raises(StillvoltError, match=r"m\.toml: it is not written as TOML .*line 2"):
        load("m", tmp_path)


@pytest.mark.parametrize("name", ["", " ", "../x", "a/b", ".hidden", "x" * 99])
def test_a_name_that_is_no_file_name_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(StillvoltError, match="cannot be called"):
        save(MeterDescription(name), tmp_path)


def test_one_that_is_not_there(tmp_path: Path) -> None:
    save(MeterDescription("plain"), tmp_path)
    with pytest.raises(StillvoltError, match="There are: plain"):
        load("other", tmp_path)


def test_a_file_of_before_there_was_a_specified_part_has_all_of_its_range_specified() -> None:
    text = (
        'name = "Old"\n[meter]\ncalibrated_on = 2026-03-01\n'
        "[[accuracy]]\nup_to_volts = 6.0\npercent_of_reading = 1.0\ncounts = 3\nresolution_volts = 0.001\n"
    )
    old = module.from_toml(text, Path("Old.toml"))
    assert old.accuracy[0].specifies(0.0) and old.calibration_interval_months == 12
    beyond = text + "specified_from_volts = 6.0\n"
    with pytest.raises(StillvoltError, match="specified_from_volts"):
        module.from_toml(beyond, Path("Old.toml"))


def test_a_kept_meter_is_replaced_only_where_that_is_wanted(tmp_path):
    stated = MeterDescription("m1", PortSettings("", baud=2400))
    path = save(stated, tmp_path)
    other = MeterDescription("m1", PortSettings("", baud=9600))
    with pytest.raises(StillvoltError, match="kept already"):
        save(other, tmp_path, replaces=False)
    assert load("m1", tmp_path) == stated
    save(other, tmp_path, replaces=True)
    assert load("m1", tmp_path) == other and path.with_name("m1.toml.1").read_text() == as_toml(stated)
