"""What the first page says of readings that were taken before a check: of each check its own readings."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from logger.metrology.checks import CheckKind
from logger.report.document.first_page import measured


def test_several_checks_share_a_phrase_only_where_it_is_of_the_same_readings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(
        measured, "_open_states", lambda _, context: [(kind, measured.BEFORE) for kind in context]
    )
    zero, reference, function = CheckKind.ZERO, CheckKind.REFERENCE, CheckKind.FUNCTION
    contexts = [(zero, reference, function), (reference, function), (reference, function)]
    readings = [SimpleNamespace(id=n, context=context) for n, context in enumerate(contexts)]
    data = cast(Any, SimpleNamespace(valid_readings=readings))
    assert measured.unproved_phrases(data) == [
        "1 of 3 readings was taken before the zero check",
        "all 3 readings were taken before the reference check and before the function check",
    ]
