"""The forms of fixtures/lines, which were written apart from the code: every line read as it has to be."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli.main import main

FORMS = sorted((Path(__file__).parents[2] / "fixtures" / "lines").glob("*.txt"))


def test_there_are_many_forms() -> None:
    assert len(FORMS) >= 60


@pytest.mark.parametrize("stream", FORMS, ids=lambda path: path.stem)
def test_form(stream: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lines", str(stream)]) == 0
    said = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    expected = stream.with_name(f"{stream.stem}.expected.jsonl").read_text(encoding="utf-8")
    rows = [json.loads(line) for line in expected.splitlines()]
    assert [(row["status"], row["volts"]) for row in said] == [(row["status"], row["volts"]) for row in rows]
    # A recorder keeps from these few lines, so far from each other, fewer samples than they have values.
    held = [at for at, row in enumerate(rows) if "held" in row]
    assert all("held" in said[at] or "refused" in said[at] for at in held)
