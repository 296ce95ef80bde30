"""The paper that a PDF is for."""

from __future__ import annotations

import pytest

from logger.report.paper import usual_paper


@pytest.mark.parametrize(
    ("environment", "names", "paper"),
    [
        ({"LANG": "en_US.UTF-8"}, (), "Letter"),
        ({"LANG": "en_US.UTF-8", "LC_PAPER": "de_DE"}, (), "A4"),
        ({"LANG": "fr_CA"}, ("de-DE",), "Letter"),
        ({"LANG": "C.UTF-8"}, ("en-US",), "A4"),
        ({}, ("en-Latn-US", "en"), "Letter"),
        ({}, ("es", "es-MX"), "A4"),
        ({}, (), "A4"),
    ],
)
def test_the_paper_is_that_of_the_systems_country(
    environment: dict[str, str], names: tuple[str, ...], paper: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("LC_ALL", "LC_PAPER", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert usual_paper(names) == paper
