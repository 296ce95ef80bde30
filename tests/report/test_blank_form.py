"""The empty form: every planned spot and check on it, text escaped, well formed."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image

from logger.cli.main import main
from logger.errors import StillvoltError
from logger.metrology.checks import CAUTIONS, STEPS, CheckKind
from logger.metrology.setup import Setup
from logger.output_file import ReplaceRefusedError
from logger.report.blank_form import USUAL_SPOTS, form_html, write_form
from logger.report.document.write_report import write_report
from logger.report.output_paths import form_path
from logger.visit import VisitLog
from logger.visit.photo_file import kept_photo
from logger.visit.records.home_details import SpotDetails
from tests.support.other_language import OtherLanguage, speak, unspoken


def test_form(tmp_path: Path) -> None:
    visit, out = tmp_path / "a.visit", tmp_path / "form.html"
    log = VisitLog.create(visit)
    log.setup.set(Setup(household="Mill & <barn>", target_volts=0.05, target_source="the household"))
    log.spots.add("Bed, lying down", reminder="as at night")
    log.spots.add("Desk <left>", reminder="screen on")
    log.close()
    main(["form", str(visit), "--out", str(out)])
    text = out.read_text(encoding="utf-8")
    body = ElementTree.fromstring(text[text.index("<body>") : text.index("</html>")])
    cells = [cell.text or "" for cell in body.iter() if cell.tag in ("td", "th", "b")]
    for wanted in ("Bed, lying down", "as at night", "Desk <left>", "screen on", "Mill & <barn>"):
        assert wanted in cells
    assert {kind.capitalize() for kind in CheckKind} <= set(cells)
    assert "Target 0.05\N{NO-BREAK SPACE}V (the household)" in text


def test_how_one_is_at_a_spot_and_its_photo_stand_beside_its_name(tmp_path: Path) -> None:
    Image.new("RGB", (60, 40), "#446688").save(tmp_path / "bed.png")
    log = VisitLog.create(tmp_path / "a.visit")
    bed = log.spots.add("Bed").id
    log.spots.add("Desk")
    log.spot_details.set(bed, SpotDetails("on the <back>", 0.55, "left side", "lamp", "adult"))
    log.photos.add(bed, kept_photo(tmp_path / "bed.png"))
    text = form_html(log)
    log.close()
    body = ElementTree.fromstring(text[text.index("<body>") : text.index("</html>")])
    assert [each.text for each in body.iter("span") if "back" in (each.text or "")] == [
        "on the <back> · 0.55\N{NO-BREAK SPACE}m above the floor · left side"
    ], "who was measured and what was plugged in is of another day"
    assert len(list(body.iter("img"))) == 1


def test_the_form_of_a_visit_without_a_plan_has_the_usual_spots_every_check_and_the_cautions(
    tmp_path: Path,
) -> None:
    log = VisitLog.create(tmp_path / "a.visit")
    text = form_html(log)
    log.close()
    for wanted in (
        *USUAL_SPOTS, "On, V", "(Off), V", "What has to be on", "thunderstorm", "licensed electrician",
        "medical devices", "Meter", "Reference", "Supply", "split, single or three-phase",
        *(" ".join(texts) for texts in CAUTIONS.values()), *(step.name for steps in STEPS.values() for step in steps),
    ):  # fmt: skip
        assert wanted in text


def test_a_row_for_each_spot_and_some_to_spare(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit")
    for n in range(9):
        log.spots.add(f"spot {n}")
    text = form_html(log)
    log.close()
    body = ElementTree.fromstring(text[text.index("<body>") : text.index("</html>")])
    rows = [["".join(cell.itertext()) for cell in row] for row in body.findall(".//tbody/tr")]
    assert [row[:2] for row in rows] == [[f"{n + 1}", f"spot {n}"] for n in range(9)] + [
        ["10", ""],
        ["11", ""],
    ]
    assert all(row[3:] == ["", "", ""] for row in rows), "nothing is filled in that nobody has read"


def test_it_goes_beside_the_visit() -> None:
    assert form_path(Path("/v/2026-11-25 09.00.00.visit")) == Path("/v/2026-11-25 09.00.00 form.html")


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    VisitLog.create(tmp_path / "a.visit").close()
    with pytest.raises(StillvoltError, match=r"There is no folder .* Nothing was written"):
        write_form(tmp_path / "a.visit", tmp_path / "no" / "form.html")


def test_it_never_takes_the_place_of_another_visits_form_or_of_a_report(tmp_path: Path) -> None:
    one, other, out = tmp_path / "one.visit", tmp_path / "other.visit", tmp_path / "page.html"
    for path in (one, other):
        with closing(VisitLog.create(path)) as log:
            log.setup.set(Setup(household=path.stem))
    write_form(one, out)
    write_form(one, out)
    for write in (lambda: write_form(other, out), lambda: write_report(one, out)):
        with pytest.raises(ReplaceRefusedError, match="another"):
            write()
    write_form(other, out, replace=True)


def test_every_sentence_of_the_form_is_in_the_language_that_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak(monkeypatch, OtherLanguage())
    with closing(VisitLog.create(tmp_path / "a.visit")) as log:
        log.setup.set(Setup(reference="earth rod", supply="split phase", mains_hz=60.0, panel_distance_m=9.0))
        text = form_html(log)
    body = ElementTree.fromstring(text[text.index("<body>") : text.index("</html>")])
    kept = {step.name for steps in STEPS.values() for step in steps}
    shown = [cell.text or "" for cell in body.iter() if cell.text not in kept]
    assert len(shown) > 40 and [cell for cell in shown if unspoken(cell)] == []
