"""The CSV file of a sweep: what is read, what is refused with its line, and what is remarked on."""

from __future__ import annotations

import codecs
import json

import pytest

from logger.cli.main import main
from logger.errors import StillvoltError
from logger.name_list import names_in
from logger.sweep.readings_csv import read_readings

HEAD = "on,volts,u_volts\n"
MARKED = "on,volts,u_volts,simulated\n"
SOUND = HEAD + ",0.02,0.004\nKitchen,0.1,0.004\nBedroom,1.2,0.01\nKitchen+Bedroom,1.3,0.01\n"


@pytest.fixture
def file_of(tmp_path):
    """Writes a file of text or bytes and gives its path."""

    def write(content):
        path = tmp_path / "sweep.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


@pytest.mark.parametrize(
    ("content", "messages"),
    [
        ("", ["line 1", "on,volts,u_volts", "empty"]),
        ("on,volts\n,0.1\n", ["line 1", "header", "on,volts"]),
        (",0.02,0.004\nKitchen,0.1,0.004\n", ["line 1", "header", "',0.02,0.004'"]),
        ("on;volts;u_volts\n;0,02;0,004\n", ["line 1", "semicolons", "commas"]),
        ("on\tvolts\tu_volts\n", ["line 1", "tabs"]),
        (HEAD, ["no reading", "everything off"]),
        (HEAD + "\n , ,\n", ["no reading"]),
        (HEAD + "A,abc,0.1\n", ["line 2", "volts is 'abc'", "not a number"]),
        (HEAD + ",0.1,0.1\nA,\"0,12\",0.1\n", ["line 3", "volts is '0,12'", "0.27"]),
        (HEAD + "A,0.1\n", ["line 2", "2 columns, not 3"]),
        (HEAD + "A,0.1,0.01,x\n", ["line 2", "4 columns", "double quotes"]),
        (HEAD + "Kitchen, left,0.1,0.01\n", ["line 2", "4 columns", "double quotes"]),
        (HEAD + "A,nan,0.1\n", ["line 2", "'nan'", "not a voltage"]),
        (HEAD + "A,inf,0.1\n", ["line 2", "'inf'", "not a voltage"]),
        (HEAD + "A,0.1,-inf\n", ["line 2", "u_volts is '-inf'", "not a voltage"]),
        (HEAD + "A,1e999,0.1\n", ["line 2", "'1e999'", "not a voltage"]),
        (HEAD + "A,1e300,0.1\n", ["line 2", "1e300", "above 1000 V", "decimal place"]),
        (HEAD + "A,0.1,1e6\n", ["line 2", "u_volts is 1e6", "above 1000 V"]),
        (HEAD + "A,-1,0.1\n", ["line 2", "volts is -1", "not negative"]),
        (HEAD + "A,1_0,0.1\n", ["line 2", "'1_0'", "not a voltage"]),
        (HEAD + "A,,0.1\n", ["line 2", "volts is empty"]),
        (HEAD + "A,0.1, \n", ["line 2", "u_volts is empty"]),
        (HEAD + "A,0.1,0\n", ["line 2", "u_volts is 0", "more than zero"]),
        (HEAD + "A,0.1,-0.01\n", ["line 2", "u_volts is -0.01", "more than zero"]),
        (HEAD + "A+,0.1,0.01\n", ["line 2", "without a name", r"\+"]),
        (HEAD + "A++B,0.1,0.01\n", ["line 2", "without a name"]),
        (HEAD + "A+A,0.1,0.01\n", ["line 2", "'A' is named twice"]),
        (HEAD + "A+*,0.1,0.01\n", ["line 2", "everything on"]),
        (HEAD + ",0.1,0.01\n*,0.2,0.01\n", ["names no circuit", "--circuits"]),
        (HEAD + '"A,0.1,0.01\nB,0.2,0.01\n', ["quotes"]),
        (HEAD.encode() + b"K\xfcche,0.1,0.01\n", ["line 2", "not UTF-8", "CSV in UTF-8"]),
        (SOUND.encode("utf-16-le"), ["UTF-16 without its mark", "UTF-8"]),
        (b"\x89PNG\r\n\x1a\n\x00\x00", ["line 1", "not UTF-8"]),
    ],
)  # fmt: skip
def test_a_file_with_a_mistake_is_refused_with_line_and_reason(file_of, capsys, content, messages):
    path = file_of(content)
    assert main(["sources", str(path), "--json"]) == 1
    printed = capsys.readouterr()
    assert printed.out == "", "no number beside a refusal"
    for message in [str(path), *messages]:
        assert message in printed.err
    assert "Traceback" not in printed.err


def test_every_line_with_a_mistake_is_named_and_then_counted(file_of):
    rows = "".join(f"A,{value},0.01\n" for value in ("x", "nan", "", "-1", "0.1", "inf", "1e9", "y"))
    with pytest.raises(StillvoltError) as refused:
        read_readings(file_of(HEAD + rows))
    for line in (2, 3, 4, 5, 7):
        assert f"line {line}:" in str(refused.value)
    assert "line 6:" not in str(refused.value) and "2 more lines have a mistake" in str(refused.value)
    assert "Nothing was worked out" in refused.value.kept


def test_a_file_that_is_not_there_is_refused(tmp_path, capsys):
    assert main(["sources", str(tmp_path / "none.csv")]) == 1
    assert "none.csv cannot be read" in capsys.readouterr().err


@pytest.mark.parametrize(
    "content",
    [
        SOUND,
        SOUND.replace("\n", "\r\n"),
        SOUND.replace("\n", "\r"),
        SOUND.rstrip("\n"),
        SOUND.replace("\nBed", "\n\n,,\nBed"),
        SOUND.encode("utf-8-sig"),
        SOUND.encode("utf-16"),
        codecs.BOM_UTF16_BE + SOUND.encode("utf-16-be"),
        SOUND.encode("utf-32"),
        SOUND.replace("on,volts,u_volts", " on , volts , u_volts"),
        SOUND.replace("Kitchen+Bedroom", " Kitchen  + Bedroom "),
        SOUND.replace("Kitchen+Bedroom", "*"),
    ],
)
def test_the_same_readings_in_another_writing_are_the_same(file_of, content):
    found = read_readings(file_of(content))
    assert found.sweep.circuits == ("Kitchen", "Bedroom") and found.remarks == ()
    assert [(set(row.on), row.volts, row.u_volts) for row in found.sweep.rows] == [
        (set(), 0.02, 0.004), ({"Kitchen"}, 0.1, 0.004), ({"Bedroom"}, 1.2, 0.01), ({"Kitchen", "Bedroom"}, 1.3, 0.01)
    ]  # fmt: skip


def test_names_may_hold_every_character(file_of, capsys):
    plus, comma, star, back, quote = "Range + oven", "Kitchen, left", "Attic *", "C\\D", 'The "old" one'
    content = (
        HEAD
        + ",0.01,0.002\nRange \\+ oven,0.6,0.002\n"
        + '"Kitchen, left",0.2,0.002\n'
        + "Attic \\*,0.011,0.002\n"
        + "C\\D,0.012,0.002\n"
        + '"The ""old"" one",0.01,0.002\n'
        + '"Range \\+ oven+Kitchen, left",0.8,0.002\n'
    )
    path = file_of(content)
    names = [plus, comma, star, back, quote]
    found = read_readings(path)
    assert list(found.sweep.circuits) == names and found.sweep.rows[-1].on == {plus, comma}
    circuits = 'Range + oven, "Kitchen, left", Attic *, C\\D, "The ""old"" one", Spare'
    assert names_in(circuits) == [*names, "Spare"]
    command = ["sources", str(path), "--json", "--circuits", circuits, "--keep", '"Kitchen, left"']
    assert main(command) == 0
    printed = json.loads(capsys.readouterr().out)
    assert [circuit["name"] for circuit in printed["circuits"]] == [*names, "Spare"]
    assert comma not in printed["off_tonight"]


def test_a_name_alone_may_be_a_star_or_a_plus(file_of):
    found = read_readings(file_of(HEAD + "\\*,0.1,0.01\n\\+,0.2,0.01\n\\*+\\+,0.3,0.01\n"))
    assert found.sweep.circuits == ("*", "+") and found.sweep.rows[2].on == {"*", "+"}


def test_options_whose_quotes_do_not_match_are_refused(file_of, capsys):
    path = file_of(SOUND)
    assert main(["sources", str(path), "--circuits", '"Kitchen, Bedroom']) == 1
    assert "quote that is not closed" in capsys.readouterr().err
    assert main(["sources", str(path), "--circuits", "Kitchen,Bedroom,kitchen"]) == 1
    assert "'kitchen' is named twice" in capsys.readouterr().err


def test_a_circuit_that_is_not_on_the_panel_is_refused_with_the_likely_one(file_of):
    path = file_of(HEAD + ",0.02,0.004\nKitchn,0.1,0.004\n")
    with pytest.raises(StillvoltError, match=r"line 3: 'Kitchn' is not among the circuits.*'Kitchen' meant"):
        read_readings(path, ["Kitchen", "Bedroom"])


def test_another_spelling_counts_as_the_circuit_and_is_remarked_on(file_of):
    found = read_readings(file_of(SOUND + "kitchen ,0.101,0.004\n"))
    assert found.sweep.circuits == ("Kitchen", "Bedroom")
    assert ["line 6" in remark and "'kitchen' counts as 'Kitchen'" in remark for remark in found.remarks] == [
        True
    ]


@pytest.mark.parametrize(
    ("rows", "remarks"),
    [
        ("A,0.1,0.01\nA,0.1,0.01\n", ["line 4: the same as line 3"]),
        ("A,0.1,0.01\nA,0.11,0.01\n", []),
        ("A,0.02,0.004\nB,0.02,0.01\n", ["every reading is 0.02 V", "HOLD"]),
        ("A,0.02,0.004\nB,0.021,0.01\n", []),
    ],
)
def test_rows_that_look_copied_and_values_that_never_change_are_remarked_on(file_of, rows, remarks):
    found = read_readings(file_of(f"{HEAD},0.02,0.004\n{rows}"))
    text = " ".join(found.remarks)
    assert all(remark in text for remark in remarks) and bool(found.remarks) is bool(remarks)


def test_where_nothing_gives_anything_nothing_is_made_up(file_of, capsys):
    zeros = "".join(f"{on},0,0.001\n" for on in ("", "A", "B", "A+B"))
    assert main(["sources", str(file_of(HEAD + zeros)), "--json"]) == 0
    printed = capsys.readouterr()
    found = json.loads(printed.out)
    assert "every reading is 0 V" in printed.err and "connected" in printed.err
    assert found["background_volts"] < 0.01 and found["predicted_volts"] < 0.01
    assert all(circuit["volts"] < 0.01 and circuit["leg"] is None for circuit in found["circuits"])
    assert found["off_tonight"] == [] and found["consistent"]


def test_sixty_circuits_are_answered(file_of, capsys):
    names = [f"C{n}" for n in range(60)]
    own = {"C3": 0.9, "C40": 0.4}
    rows = [f"{name},{(own.get(name, 0.0) ** 2 + 0.02**2) ** 0.5:.3f},0.002\n" for name in names]
    assert (
        main(["sources", str(file_of(f"{HEAD},0.020,0.002\n{''.join(rows)}*,1.300,0.005\n")), "--json"]) == 0
    )
    found = json.loads(capsys.readouterr().out)
    assert len(found["circuits"]) == 60 and found["off_tonight"] == ["C3", "C40"]


def test_simulated_readings_are_answered_with_the_mark_and_not_together_with_measured_ones(file_of, capsys):
    rows = [",0.02,0.004", "Kitchen,0.1,0.004", "Bedroom,1.2,0.01", "Kitchen+Bedroom,1.3,0.01"]
    main(["sources", str(file_of(MARKED + "\n".join(f"{row},yes" for row in rows))), "--json"])
    out, err = capsys.readouterr()
    assert json.loads(out)["simulated"] is True and "nothing was measured" in err
    main(["sources", str(file_of(MARKED + "\n".join(f"{row},no" for row in rows))), "--json"])
    assert "simulated" not in json.loads(capsys.readouterr().out)
    mixed = file_of(MARKED + "\n".join(f"{row},{'yes' if row.startswith('Kitchen') else ''}" for row in rows))
    with pytest.raises(StillvoltError, match="lines 3, 5: simulated"):
        read_readings(mixed)
