"""The report in the hands of others: a strict parser, a real browser without network, a printer, a PDF."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from logger.catalogue import languages
from logger.errors import StillvoltError
from logger.report.document.printed import AFTER_HOUSEHOLD, ROOM
from logger.report.document.printed import printed as as_pdf
from logger.report.document.write_report import write_report
from tests.support.browser import CHROMIUM, NO_CHROMIUM, SERIOUS, browser, opened, parse_errors, told

if TYPE_CHECKING:
    from playwright.sync_api import Browser


DEMO = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip(NO_CHROMIUM)
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def page(whole_visit: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("page") / "report.html"
    write_report(whole_visit, out)
    return out


def test_it_is_valid_html(page: Path) -> None:
    assert parse_errors(page.read_text(encoding="utf-8")) == []


def test_the_parser_finds_what_is_wrong(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert parse_errors(text.replace("</table>", "</div>", 1))


def test_a_browser_without_network_opens_it_asks_for_nothing_and_finds_nothing_serious(
    page: Path, chromium: Browser
) -> None:
    with opened(page, chromium) as found:
        assert found.asked == []
        assert found.said == []
        assert [one for one in told(found.findings()) if one.startswith(SERIOUS)] == []
        assert found.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        found.page.set_viewport_size({"width": 360, "height": 800})
        assert found.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        outside = (
            "[...document.querySelectorAll('.first *')].filter(e => e.getBoundingClientRect().right > 360)"
        )
        assert found.page.evaluate(f"{outside}.map(e => e.outerHTML)") == []
        # Heads that stand in the cells of a card show nowhere else, and no picture is wider than the screen.
        found.page.add_style_tag(content=".fold > * { display: block !important }")
        heads = (
            "[...document.querySelectorAll('.professional thead')].map(e => e.getBoundingClientRect().width)"
        )
        assert set(found.page.evaluate(heads)) == {1}
        beyond = (
            "[...document.querySelectorAll('figure svg')].filter(e => e.getBoundingClientRect().right > 360)"
        )
        assert found.page.evaluate(f"{beyond}.map(e => e.outerHTML)") == []
        hidden = (
            "[...document.querySelectorAll('.professional td')].filter(e => e.innerText && !e.offsetHeight)"
        )
        assert found.page.evaluate(f"{hidden}.map(e => e.outerHTML)") == []


def test_the_checks_of_the_browser_can_fail(chromium: Browser, tmp_path: Path) -> None:
    text = '<!doctype html><html><img src="http://localhost:9/a.png"><p style="color:#ddd">pale</p></html>'
    worse = tmp_path / "worse.html"
    worse.write_text(text, encoding="utf-8")
    with opened(worse, chromium) as found:
        assert found.asked == ["http://localhost:9/a.png"]
        rules = {one["id"] for one in found.findings()}
    assert {"html-has-lang", "image-alt", "color-contrast"} <= rules


def test_it_prints_on_both_papers_with_the_household_on_one_page(
    page: Path, chromium: Browser, tmp_path: Path
) -> None:
    with opened(page, chromium) as found:
        for paper in ("A4", "Letter"):
            found.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
    for paper in ("A4", "Letter"):
        pages = _pages(tmp_path / f"{paper}.pdf")
        assert "For the household" in pages[0]
        assert "For the next professional" in pages[1]
        assert all(len(text.split()) > 12 for text in pages)


def test_the_pdf_has_every_section_and_no_empty_page(day_visit: Path, tmp_path: Path) -> None:
    out, pdf = tmp_path / "a.html", tmp_path / "a.pdf"
    write_report(day_visit, out, pdf)
    assert pdf.read_bytes().startswith(b"%PDF-")
    pages = _pages(pdf)
    assert all(len(text.split()) > 12 for text in pages)
    printed = " ".join(" ".join(pages).split())
    titles = re.findall(r"<h3 [^>]*>(\d+\. [^<]*)</h3>", out.read_text(encoding="utf-8"))
    assert len(titles) > 12
    for title in titles:
        assert title in printed


@pytest.mark.parametrize("language", languages())
def test_the_households_part_of_the_demo_takes_one_side_in_each_language(
    language: str, tmp_path: Path
) -> None:
    visit = tmp_path / "demo.visit"
    shutil.copy(DEMO, visit)
    out = tmp_path / "a.html"
    write_report(visit, out, language=language)
    household, _, _ = out.read_text(encoding="utf-8").partition(AFTER_HOUSEHOLD)
    (tmp_path / "a.pdf").write_bytes(as_pdf(f"{household}{AFTER_HOUSEHOLD} hidden></div>", ""))
    assert len(_pages(tmp_path / "a.pdf")) == 1


def test_a_first_page_that_would_run_over_is_printed_a_step_smaller(page: Path, tmp_path: Path) -> None:
    whole = page.read_text(encoding="utf-8")
    assert len(ROOM.findall(whole)) == 1 and whole.count(AFTER_HOUSEHOLD) == 1
    height = "calc(8cm + var(--room) * 8cm)"
    style = f"<html lang='en'><title>a</title><style>p {{ height: {height}; margin: 0 }}</style>"
    others = f"<div {AFTER_HOUSEHOLD}\"><h1 style='break-before: page'>b</h1></div>"
    for paragraphs, pages in ((1, 2), (2, 2)):
        html = f'{style}<body style="--room: 1">' + "<p>for you</p>" * paragraphs + others
        (tmp_path / "a.pdf").write_bytes(as_pdf(html, ""))
        assert len(_pages(tmp_path / "a.pdf")) == pages


def test_the_pdf_is_on_the_paper_that_was_chosen(tmp_path: Path) -> None:
    html = f"<html lang='en'><title>a</title><body style='--room: 1'><p>for you</p><div {AFTER_HOUSEHOLD}\">b</div>"
    for paper, size in (("A4", "595.276 x 841.89 pts (A4)"), ("Letter", "612 x 792 pts (letter)")):
        (tmp_path / "a.pdf").write_bytes(as_pdf(html, "", paper))
        told = subprocess.run(["pdfinfo", tmp_path / "a.pdf"], capture_output=True, text=True, check=True)
        assert size in told.stdout


def test_without_weasyprint_the_page_is_written_and_the_way_on_told(
    day_visit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(StillvoltError, match=r"WeasyPrint.*pip install 'stillvolt\[report\]'") as told_so:
        write_report(day_visit, tmp_path / "a.html", tmp_path / "a.pdf")
    assert told_so.value.kept == f"The report is in {tmp_path / 'a.html'}."
    assert (tmp_path / "a.html").exists()
    assert not (tmp_path / "a.pdf").exists()


def test_without_pango_the_library_is_named(
    day_visit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Missing:
        def find_spec(self, name: str, path: object = None, target: object = None) -> None:
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(StillvoltError, match=r"Pango.*apt-get install libpango-1.0-0"):
        write_report(day_visit, tmp_path / "a.html", tmp_path / "a.pdf")


def _pages(pdf: Path) -> list[str]:
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    return text.rstrip("\f").split("\f")
