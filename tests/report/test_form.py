"""The empty form: every planned spot and check on it, text escaped, well formed."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest

from logger.cli import main
from logger.errors import StillvoltError
from logger.report.form import write_form
from logger.visit import VisitLog
from logger.visit.checks import CheckKind
from logger.visit.setup import Setup


def test_form(tmp_path: Path) -> None:
    visit, out = tmp_path / "a.visit", tmp_path / "form.html"
    log = VisitLog.create(visit)
    log.state_setup(Setup(household="Mill & <barn>", target_volts=0.05, target_source="the household"))
    log.add_spot("Bed, lying down", reminder="as at night")
    log.add_spot("Desk <left>", reminder="screen on")
    log.close()
    main(["form", str(visit), "--out", str(out)])
    text = out.read_text(encoding="utf-8")
    body = ElementTree.fromstring(text[text.index("<body>") : text.index("</html>")])
    cells = [cell.text or "" for cell in body.iter() if cell.tag in ("td", "th")]
    for wanted in ("Bed, lying down", "as at night", "Desk <left>", "screen on", "Mill & <barn>"):
        assert wanted in cells
    assert {kind.capitalize() for kind in CheckKind} <= set(cells)
    assert "Target: 0.05 V (the household)" in text


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    VisitLog.create(tmp_path / "a.visit").close()
    with pytest.raises(StillvoltError, match="cannot be written"):
        write_form(tmp_path / "a.visit", tmp_path / "no" / "form.html")
