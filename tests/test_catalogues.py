"""Catalogues: what is in them is used, and whatever is wrong in one shows English and stops nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from gui.actions.table import ACTIONS
from logger import catalogue
from logger.metrology.rounding import as_number, fixed, grouped, rounded, share_of_shown, signed
from logger.translation import (
    in_language,
    set_language,
    shown_language,
    shown_number,
    tr,
    tr_kept,
    tr_n,
    within,
)
from scripts import catalogues
from scripts.window_keys import entries as in_menu

HEAD = """msgid ""
msgstr ""
"Language: xq\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"
"Last-Translator: {by} <a@b>\\n"
"""

SENTENCES = """
msgid "Moved “{spot}” back"
msgstr "„{spot}“ zurückgelegt"

msgid "One step"
msgid_plural "{n} steps"
msgstr[0] "Ein Sprung"
msgstr[1] "{n} Sprünge"

msgid "It is {volts} V"
msgstr "Es sind {voltz} V"

msgctxt "kept"
msgid "The disk is short of room: {free} MB are free."
msgstr "Auf der Platte ist wenig Platz: {free} MB sind frei."

msgctxt "kept"
msgid "Moved from {one} to {other}"
msgstr "Von {one} nach {other} gelegt"

msgctxt "kept"
msgid "Low battery"
msgstr "Batterie schwach"

msgctxt "kept"
msgid "{what} was added"
msgstr "{what} ist dazugekommen"

msgctxt "kept"
msgid "A lamp {other} {one}ed"
msgstr "Ein {one} dazu {other}"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr(catalogue, "FOLDER", tmp_path)
    monkeypatch.setattr(
        catalogue, "_cache_file", lambda language, content: tmp_path / "cache" / f"{language}.mo"
    )
    catalogue.translations_of.cache_clear()
    catalogue.is_reviewed.cache_clear()
    catalogue.kept_sentences.cache_clear()
    yield tmp_path
    set_language("en")
    catalogue.translations_of.cache_clear()
    catalogue.is_reviewed.cache_clear()
    catalogue.kept_sentences.cache_clear()


def written(folder: Path, content: str = HEAD.format(by="somebody") + SENTENCES) -> None:
    (folder / "de.po").write_text(content, encoding="utf-8")


def test_a_language_is_one_file(folder: Path) -> None:
    written(folder)
    assert catalogue.languages() == ("en", "de")
    set_language("de")
    assert tr("Moved “{spot}” back").format(spot="Bed") == "„Bed“ zurückgelegt"
    assert tr_n("One step", "{n} steps", 3).format(n=3) == "3 Sprünge"
    assert (tr(""), tr("Not in it")) == ("", "Not in it")
    set_language("en")
    assert tr("One step") == "One step"


def test_a_compiled_catalogue_is_kept_and_a_damaged_one_is_compiled_anew(folder: Path) -> None:
    written(folder)
    kept, other = folder / "cache" / "de.mo", folder / "cache" / "fr.mo"
    (folder / "fr.po").write_text(
        (folder / "de.po").read_text("utf-8").replace("Ein Sprung", "Un saut"), "utf-8"
    )
    catalogue.translations_of("fr")
    catalogue.translations_of("de")
    altered = kept.read_bytes().replace(b"Ein Sprung", b"Kein Sprun")
    for damage in (b"", b"\xde\x12\x04\x95", b"nothing of the kind" * 9, altered, other.read_bytes()):
        kept.write_bytes(damage)
        catalogue.translations_of.cache_clear()
        set_language("de")
        assert tr_n("One step", "{n} steps", 1) == "Ein Sprung"


def test_a_sentence_whose_places_are_others_stays_english(folder: Path) -> None:
    written(folder)
    set_language("de")
    assert tr("It is {volts} V").format(volts=3) == "It is 3 V"


@pytest.mark.parametrize("content", ["", "msgid", "\x00\x01", 'msgid "a"\nmsgstr "b'])
def test_a_catalogue_that_is_none_shows_english(folder: Path, content: str) -> None:
    written(folder, content)
    set_language("de")
    assert tr("One step") == "One step"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("The disk is short of room: 0.5 MB are free.", "Auf der Platte ist wenig Platz: 0,5 MB sind frei."),
        (
            "The disk is short of room: 0.5 V, 1.5 V MB are free.",
            "Auf der Platte ist wenig Platz: 0,5 V, 1,5 V MB sind frei.",
        ),
        (
            "The disk is short of room: 1,204 MB are free.",
            "Auf der Platte ist wenig Platz: 1\u202f204 MB sind frei.",
        ),
        (
            "The disk is short of room: Moved from Bed to Desk MB are free.",
            "Auf der Platte ist wenig Platz: Von Bed nach Desk gelegt MB sind frei.",
        ),
        ("Moved from Bed 2.5 to Desk", "Von Bed 2.5 nach Desk gelegt"),
        ("Low battery", "Batterie schwach"),
        ("Moved from here to there to Desk", "Moved from here to there to Desk"),
        ("A lamp was added", "A lamp was added"),
        ("Of no catalogue", "Of no catalogue"),
    ],
    ids=[
        "number",
        "numbers",
        "thousands",
        "a sentence in a place",
        "names",
        "no place",
        "two ways to part it",
        "two sentences",
        "unknown",
    ],
)
def test_a_kept_sentence_is_found_by_what_stands_between_its_places_and_stays_english_where_that_is_in_doubt(
    folder: Path, text: str, shown: str
) -> None:
    written(folder)
    with in_language("de"):
        assert tr_kept(text) == shown
    assert tr_kept(text) == text


def test_numbers_have_the_decimal_sign_of_the_language() -> None:
    with in_language("de"):
        assert [shown_number("0.17 ± 0.02 V."), fixed(-0.5, 2), signed(0.5, 1)] == [
            "0,17 ± 0,02 V.",
            "−0,50",
            "+0,5",
        ]
        assert rounded(0.25, 0.031) == ("0,25", "0,03")
        assert share_of_shown(rounded(0.25, 0.031), rounded(0.5, 0.031)) == "50\N{NO-BREAK SPACE}%"
        assert as_number("−0,25") == -0.25
        with in_language("en"):
            assert fixed(0.5, 1) == "0.5"
        assert shown_language() == "de"
    assert fixed(0.5, 1) == "0.5"


def test_thousands_are_parted_by_no_sign_that_parts_decimals_in_the_language() -> None:
    assert grouped(1204) == "1,204"
    with in_language("de"):
        assert grouped(1204) == "1\N{NARROW NO-BREAK SPACE}204" and grouped(120) == "120"


def test_a_buttons_name_begins_small_within_an_english_sentence_only(folder: Path) -> None:
    written(folder)
    assert [within(name) for name in ("Take 0.3 V", "CSV files", "")] == ["take 0.3 V", "CSV files", ""]
    set_language("de")
    assert within("Messwert nehmen") == "Messwert nehmen"


def test_who_has_not_reviewed_it_is_told(folder: Path) -> None:
    written(folder, HEAD.format(by=catalogue.NOT_REVIEWED) + SENTENCES)
    assert not catalogue.is_reviewed("de")
    assert catalogue.is_reviewed("en")
    assert catalogue.language_name("de") == "Deutsch"


@pytest.mark.parametrize(
    ("variables", "code"),
    [
        ({"LANG": "de_CH.UTF-8"}, "de"),
        ({"LANG": "fr_FR"}, "en"),
        ({"LC_ALL": "C", "LANG": "de_DE"}, "en"),
        ({"LANG": "fr_FR", "LANGUAGE": "fr:de"}, "de"),
        ({}, "en"),
    ],
)
def test_the_language_of_the_system(
    folder: Path, monkeypatch: pytest.MonkeyPatch, variables: dict[str, str], code: str
) -> None:
    written(folder)
    # Not those of the process: the C library keeps a message that it has once looked up in another language.
    monkeypatch.setattr("logger.catalogue.os.environ", variables)
    set_language("system")
    assert shown_language() == code
    set_language("en")


def plain(text: str) -> str:
    """A button's text as a sentence names it, without the mark of its letter."""
    return text.replace("&", "").replace("...", "").replace("…", "")


@pytest.mark.parametrize("language", catalogue.languages()[1:])
def test_every_translation_that_is_there_can_be_filled_as_the_english_sentence_is(language: str) -> None:
    content = (catalogue.FOLDER / f"{language}.po").read_bytes()
    entries = [catalogue.forms_of(message) for message in catalogue.read_catalogue(content, language)]
    wrong = [
        one for one, many, forms in entries if one and any(forms) and not catalogue.usable(one, many, forms)
    ]
    assert wrong == [] and len(entries) > 1000
    assert [
        one
        for one, _, forms in entries
        if one and any(form.count("&") != one.count("&") for form in forms if form)
    ] == []
    shown = {one: forms[0] for one, _, forms in entries}
    for menu, submenu in {
        (spec.menu, spec.submenu if deep else "") for spec in ACTIONS if spec.menu for deep in (0, 1)
    }:
        letters = [
            shown[text].partition("&")[2][:1].lower() for text in in_menu(menu, submenu) if "&" in text
        ]
        assert len(set(letters)) == len(letters), f"one letter for two entries of {menu} {submenu}: {letters}"
    buttons = {plain(spec.text): plain(shown[spec.text]) for spec in ACTIONS}
    assert [
        (one, button)
        for one, sentence in shown.items()
        if one and sentence
        for button in re.findall("“([^”]+)”", one)
        if buttons.get(plain(button), "") not in plain(sentence)
    ] == [], "a sentence names a button that is called otherwise"


def test_the_german_catalogue_has_every_sentence_that_is_shown_through_it() -> None:
    wanted = catalogues.sentences()
    assert "&Undo" in wanted and "Take {value} for “{spot}”" in wanted, (
        "of the table of actions, and of a file"
    )
    assert catalogues.missing("de", wanted) == []
