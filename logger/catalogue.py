"""The catalogues of sentences, one file a language in `logger/locale`, and what can be used of one.

In: LANGUAGE.po, as gettext and Babel write it. Out: its translations, compiled once and kept in the user's cache, and
what the language is called. A sentence whose places are others than the English one's is left out, so that a mistake
in a catalogue shows English and stops nothing.
"""

from __future__ import annotations

import ctypes
import gettext
import hashlib
import io
import locale
import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING

from logger.diagnostics import log_exception

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog, Message

FOLDER = Path(__file__).parent / "locale"
"""LANGUAGE.po each: a further language is one more file."""

SOURCE_LANGUAGE = "en"
"""The language in which the sentences are written in the code."""

KEPT = "kept"
"""The context, in a catalogue, of the sentences that the log keeps in English."""

DIGEST_BYTES = hashlib.sha256().digest_size
"""A compiled catalogue is kept behind a digest of itself and of the catalogue that it was made of: one that was
altered, or exchanged for that of another language, would say something else."""

NOT_REVIEWED = "not reviewed by a native practitioner"
"""Who translated last, in the head of a catalogue that nobody who does this work in that language has read."""


def languages() -> tuple[str, ...]:
    """The codes of all languages there are: English first, then as the alphabet has them."""
    return (SOURCE_LANGUAGE, *sorted(file.stem for file in FOLDER.glob("*.po")))


@cache
def language_name(language: str) -> str:
    """What a language calls itself, such as "Deutsch"; its code where nobody knows."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415  start-up time: the settings alone show it

    try:
        return (Locale.parse(language).get_display_name() or language).capitalize()
    except (UnknownLocaleError, ValueError):
        return language


@cache
def is_reviewed(language: str) -> bool:
    """Whether somebody who does this work in that language has read its catalogue."""
    if language == SOURCE_LANGUAGE:
        return True
    return NOT_REVIEWED not in translations_of(language).info().get("last-translator", NOT_REVIEWED)


def system_language() -> str:
    """The code of the language that the system is set to; English where there is no catalogue for it."""
    asked = [os.environ.get(name, "") for name in ("LC_ALL", "LC_MESSAGES", "LANG")]
    found = next((name for name in asked if name), "")
    preferred = (
        os.environ.get("LANGUAGE", "").split(":") if found.partition(".")[0] not in ("", "C", "POSIX") else []
    )
    if not found and sys.platform == "win32":
        found = locale.windows_locale.get(ctypes.windll.kernel32.GetUserDefaultUILanguage(), "")
    return first_known([*preferred, found])


def first_known(names: Iterable[str]) -> str:
    """The code of the first language that there is a catalogue for; English where there is for none.

    Args:
        names: of languages as a system has them, such as "de_CH.UTF-8" or "de-CH", the most wanted first.
    """
    known = languages()
    for name in names:
        code = name.replace("-", "_").partition(".")[0].partition("_")[0].lower()
        if code in known:
            return code
    return SOURCE_LANGUAGE


@cache
def translations_of(language: str) -> gettext.NullTranslations:
    """The translations of a language; those of English, which are none, where it has no catalogue that can be read."""
    if language not in languages() or language == SOURCE_LANGUAGE:
        return gettext.NullTranslations()
    try:
        content = (FOLDER / f"{language}.po").read_bytes()
        return _kept(language, content) or _compiled(language, content)
    except Exception:  # a catalogue may be anybody's: whatever is wrong with it, the work goes on in English
        log_exception(f"reading the catalogue of {language}")
        return gettext.NullTranslations()


@cache
def kept_sentences(language: str) -> tuple[str, ...]:
    """The English sentences with places that the log keeps, as far as a language has them."""
    context = f"{KEPT}\x04"
    every = vars(translations_of(language)).get("_catalog", {})  # the library lists them nowhere else
    texts = (key.removeprefix(context) for key in every if isinstance(key, str) and key.startswith(context))
    return tuple(text for text in texts if places_of(text))


@cache
def places_and_literals(text: str) -> tuple[tuple[str, str | None], ...]:
    """What a sentence is made of: a piece of text each, and the name of the place after it, None after the last."""
    return tuple((literal, name) for literal, name, _, _ in Formatter().parse(text))


def places_of(text: str) -> set[str]:
    """The names of the places in a sentence, such as {"spot"} of "Moved {spot} back"."""
    return {name for _, name in places_and_literals(text) if name is not None}


def usable(singular: str, plural: str, translated: tuple[str, ...]) -> bool:
    """Whether a translation can be filled with what the English sentence is filled with.

    Args:
        singular: the English sentence.
        plural: the one for several things; empty where there is no such.
        translated: its forms in the language.
    """
    allowed = places_of(singular) | places_of(plural)
    wanted = allowed if not plural else places_of(plural) - {"n"}
    try:
        found = [places_of(text) for text in translated]
    except ValueError:
        return False
    return all(translated) and all(wanted - {"n"} <= places <= allowed for places in found)


def read_catalogue(content: bytes, language: str) -> Catalog:
    """What a catalogue file holds; raises PoFileError or another ValueError where it is none.

    Args:
        content: of the file.
        language: its code.
    """
    from babel.messages.pofile import read_po  # noqa: PLC0415  start-up time: a catalogue is compiled once

    return read_po(io.BytesIO(content), locale=language, abort_invalid=True)


def forms_of(message: Message) -> tuple[str, str, tuple[str, ...]]:
    """An entry of a catalogue: the sentence, the one for several things or "", and its forms in the language."""
    ids = [message.id] if isinstance(message.id, str) else list(message.id)
    forms = [message.string] if isinstance(message.string, str) else list(message.string or [])
    return ids[0], "".join(ids[1:]), tuple(form or "" for form in forms)


def _compiled(language: str, content: bytes) -> gettext.GNUTranslations:
    from babel.messages.mofile import write_mo  # noqa: PLC0415  start-up time: a catalogue is compiled once

    catalogue = read_catalogue(content, language)
    for message in list(catalogue):
        one, many, forms = forms_of(message)
        if one and not usable(one, many, forms):
            catalogue.delete(message.id, message.context)
    compiled = io.BytesIO()
    write_mo(compiled, catalogue)
    with suppress(OSError):
        _keep(_cache_file(language, content), _digest(content + compiled.getvalue()) + compiled.getvalue())
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def _kept(language: str, content: bytes) -> gettext.GNUTranslations | None:
    """The compiled catalogue that is kept; None where there is none of this content, or not as it was compiled."""
    try:
        kept = _cache_file(language, content).read_bytes()
    except OSError:
        return None
    digest, compiled = kept[:DIGEST_BYTES], kept[DIGEST_BYTES:]
    return gettext.GNUTranslations(io.BytesIO(compiled)) if digest == _digest(content + compiled) else None


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).digest()


def _keep(path: Path, compiled: bytes) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    half = path.with_suffix(f".{os.getpid()}")
    half.write_bytes(compiled)
    half.replace(path)


def _cache_file(language: str, content: bytes) -> Path:
    import platformdirs  # noqa: PLC0415  start-up time: English has no catalogue

    digest = _digest(content).hex()[:16]
    return (
        platformdirs.user_cache_path("stillvolt", appauthor=False) / "catalogues" / f"{language}-{digest}.mo"
    )
