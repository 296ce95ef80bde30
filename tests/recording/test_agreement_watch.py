"""Why the lines show no level, in whole sentences, once a minute at most."""

from __future__ import annotations

import pytest

from logger.recording.agreement_watch import NOTICE_EVERY_S, AgreementWatch
from logger.settling.events import Disagreement, State

THREE = Disagreement(State.ALTERNATING, (1.0, 2.0, 3.0))
TWO = Disagreement(State.ALTERNATING, (0.05, 1.234))


@pytest.mark.parametrize(
    ("found", "kind", "words"),
    [
        (TWO, "lines alternating", "Two values alternate, 0.050 V and 1.234 V, so no value is settled."),
        (THREE, "lines alternating", "Several values come in turn, 1.000 V, 2.000 V and 3.000 V, so"),
        (Disagreement(State.REFUSED, refused_share=0.36), "lines refused", "36% of the latest lines contradict"),
    ],
)  # fmt: skip
def test_the_reason_is_stated(found, kind, words):
    watch = AgreementWatch()
    (notice,) = watch.poll(5.0, found)
    assert notice.kind == kind and words in notice.message and watch.problem == notice.message
    assert watch.poll(6.0, None) == [] and watch.problem == ""


def test_what_comes_and_goes_gives_one_notice_in_a_while():
    watch = AgreementWatch()
    notices = [len(watch.poll(t, TWO if t % 2 else None)) for t in range(round(NOTICE_EVERY_S))]
    assert sum(notices) == 1
    assert len(watch.poll(2 * NOTICE_EVERY_S, TWO)) == 1
