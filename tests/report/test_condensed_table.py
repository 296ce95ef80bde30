"""Nearly empty columns leave a table, and nothing that stood in them is lost."""

from __future__ import annotations

from logger.report.document.blocks import TableBlock
from logger.report.document.condensed_table import condensed, says_nothing
from logger.report.document.wording import NBSP

UNKNOWN = f"not{NBSP}known{NBSP}yet"
NAMES = ("Bed", "Desk", "Sofa", "Hall", "Rug", "Bath", "Attic")


def a_table(*columns: tuple[str, ...], numbers: frozenset[int] = frozenset()) -> TableBlock:
    return TableBlock(
        "c", ("Spot", "Leg", "Remark")[: len(columns) + 1], tuple(zip(NAMES, *columns, strict=True)), numbers
    )


def test_a_nearly_empty_column_is_a_line_that_names_each_answer_with_its_rows() -> None:
    legs = ("A", "A", *(UNKNOWN,) * 5)
    remarks = ("", "motion in it.", "", "–", "", "", "")
    table, lines = condensed(a_table(legs, remarks))
    assert table.heads == ("Spot",)
    assert table.rows == tuple((name,) for name in NAMES)
    assert lines == (
        f"Leg: {UNKNOWN}, but for these: A (Bed, Desk).",
        "Remark, only of these: motion in it (Desk).",
    )


def test_a_column_that_says_the_same_nothing_of_each_row_is_said_once() -> None:
    table, lines = condensed(a_table(("not recorded",) * 7, ("",) * 7))
    assert table.heads == ("Spot",)
    assert lines == ("Leg: not recorded.",)


def test_a_column_with_more_than_a_few_answers_stays_and_so_do_numbers() -> None:
    table = a_table(("A", "B", "A", *(UNKNOWN,) * 4), ("1.0", *("–",) * 6), numbers=frozenset({2}))
    assert condensed(table) == (table, ())


def test_numbers_keep_their_columns_when_one_before_them_leaves() -> None:
    table, _ = condensed(a_table(("",) * 7, ("1.0",) * 7, numbers=frozenset({2})))
    assert (table.heads, table.numbers) == (("Spot", "Remark"), frozenset({1}))


def test_where_two_rows_have_one_name_a_line_could_not_tell_them_apart() -> None:
    rows = tuple(("Bed", leg) for leg in ("A", *("",) * 6))
    table = TableBlock("c", ("Spot", "Leg"), rows)
    assert condensed(table) == (table, ())


def test_a_dash_is_nothing_and_a_zero_is_something() -> None:
    assert [says_nothing(cell) for cell in ("", "–", UNKNOWN, "0", "no")] == [True, True, True, False, False]
