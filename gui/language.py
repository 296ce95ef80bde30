"""The language of the window: its own texts, and those that Qt brings along (buttons of dialogs, names of months)."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QLibraryInfo, QLocale, QTranslator

from gui.model.languages import system_languages
from logger.catalogue import SOURCE_LANGUAGE, first_known
from logger.translation import SYSTEM_LANGUAGE, set_language, shown_language

_installed: list[QTranslator] = []


def choose_language(language: str) -> None:
    """Show texts in a language from now on; what is drawn already stays as it is.

    Args:
        language: a code such as "en"; "system" for the first one of the system's that there is a catalogue for.
    """
    if language == SYSTEM_LANGUAGE:
        language = first_known(system_languages())
    if language == shown_language():
        return
    set_language(language)
    application = QCoreApplication.instance()
    for translator in _installed:
        if application is not None:
            application.removeTranslator(translator)
    _installed.clear()
    translator = QTranslator(application)
    folder = QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)
    if (
        application is not None
        and language != SOURCE_LANGUAGE
        and translator.load(QLocale(language), "qtbase", "_", folder)
    ):
        application.installTranslator(translator)
        _installed.append(translator)
