"""Lines in a row judged together: the explanation that costs least, and what costs more than what."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from logger.meter.joint_judgement import JointJudgement, expected_range, expected_ranges
from logger.meter.lines import read_line
from logger.meter.number_layout import layout_of
from logger.meter.stream_history import StreamHistory
from logger.meter.stream_line import StreamLine


def stream_line(text: str) -> StreamLine:
    raw = text.encode()
    return StreamLine(0, 0, raw, read_line(raw))


def history_of(*texts: str) -> StreamHistory:
    """What a stream of lines of one layout has shown."""
    history = StreamHistory(read_line)
    for index, text in enumerate(texts):
        line = stream_line(text)
        if not index:
            history.confirm(line.layout, line.raw)
        history.add(line)
    return history


LEVEL = ("0.273 V", "0.271 V", "0.274 V", "0.272 V", "0.273 V") * 4


def judged(
    texts: Sequence[str],
    before: Sequence[str] = LEVEL,
    refuses_strange: bool = True,
    pieces: Sequence[int] = (),
) -> JointJudgement:
    return JointJudgement(history_of(*before), [stream_line(text) for text in texts], refuses_strange, pieces)


@pytest.mark.parametrize(
    ("texts", "kept"),
    [
        (["0.273 V", "0.272 V"], [True, True]),
        (["0.73 V", "0.272 V", "0.273 V"], [False, True, True]),
        (["0.2733 V", "0.23 V", "0.273 V"], [True, False, True]),
        (["12.04 V", "12.05 V", "12.04 V"], [True, True, True]),
        (["8.04 V", "8.05 V", "273 V", "8.04 V"], [True, True, False, True]),
        (["0.373 V", "0.513 V", "0.402 V", "0.280 V"], [True, True, True, True]),
    ],
    ids=["level", "lost", "doubled and lost", "new range", "new range and damage", "motion"],
)
def test_the_likeliest_explanation(texts: list[str], kept: list[bool]) -> None:
    assert judged(texts).best().kept[-1:] == (True,)
    found = judged(texts).best().kept
    near = [abs(read_line(text.encode()).volts - 0.273) < 0.01 * 0.273 for text in texts]  # type: ignore[operator]
    assert [is_kept or is_near for is_kept, is_near in zip(found, near, strict=True)] == [
        is_kept or is_near for is_kept, is_near in zip(kept, near, strict=True)
    ]


def test_what_is_kept_or_dropped_in_any_case() -> None:
    judgement = judged(["0.73 V", "0.272 V", "0.273 V"])
    assert judgement.best(keep=[0]).kept[0] and not judgement.best(drop=[0]).kept[0]
    assert judgement.best().cost == min(judgement.best(keep=[0]).cost, judgement.best(drop=[0]).cost)


def test_a_line_that_damage_does_not_explain_is_kept_where_strange_lines_are() -> None:
    texts = ["7.61e+01 mV", "0.272 V", "0.273 V"]
    assert judged(texts, refuses_strange=False).best().kept[0]
    assert judged(texts, refuses_strange=False).best(drop=[0]).cost == math.inf


def test_the_other_piece_of_a_line_that_was_split_costs_little() -> None:
    texts = ["3.51 V", "0.272 V", "0.273 V"]
    assert judged(texts, pieces=[0]).best(drop=[0]).cost < judged(texts).best(drop=[0]).cost
    assert not judged(texts, pieces=[0]).best().kept[0]


def test_the_first_lines_of_a_stream_are_judged_by_each_other() -> None:
    assert judged(["0.273 V", "0.272 V", "0.273 V"], before=()).best().kept == (True, True, True)
    assert judged(["273 V", "0.272 V", "0.273 V"], before=()).best().kept == (False, True, True)
    assert judged(["0.273 V", "27 V", "0.273 V"], before=()).best().kept == (True, False, True)


def test_between_two_levels_nothing_is_to_be_expected_and_in_a_motion_all_is() -> None:
    line = stream_line("1.000 V")
    layout = layout_of(line.raw, line.reading)
    assert len(expected_ranges([0.1, 10.0], layout)) == 2
    assert expected_ranges([1.0, 2.0], layout) == [expected_range([1.0, 2.0], layout)]
    low, high = expected_range([1.0, 2.0], layout)
    assert low < 1.0 and high > 2.0
    assert expected_range([], layout) == (0.0, math.inf)
