"""The small dialogs of the stage Plan: that a remedy is done, and a remedy in the user's own words.

In: what is offered, and what keeps the answers. Out: one call with all of them; a sentence that it returns is shown in
the dialog, which stays open.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFormLayout, QLineEdit, QWidget

from gui.settings.form import dialog_buttons
from gui.shell.announcer import announce_at
from gui.widgets.appearance import label
from gui.widgets.choice_box import ChoiceBox
from logger.plan.remedy_kinds import WHO_WORDS, Who
from logger.translation import marked, tr
from logger.visit.records.home_records import Spot

DAY_FORM = marked("A day is typed like 2026-03-31.")

WIDTH_LETTERS = 60


def why_no_day(text: str, today: date | None = None) -> str:
    """Why a text is no day, in a sentence; empty where it is one.

    Args:
        text: as it was typed.
        today: the last day that can be meant; None where any can.
    """
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return tr(DAY_FORM)
    return tr("That day is still to come.") if today is not None and day > today else ""


class _RemedyDialog(QDialog):
    """A few fields, why an answer cannot be kept, and OK.

    Args:
        title: of the dialog.
        text: what it is about.
        parent: the window that it belongs to.
    """

    def __init__(self, title: str, text: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAccessibleName(title)
        self.setModal(True)
        self.setMinimumWidth(WIDTH_LETTERS * self.fontMetrics().averageCharWidth())
        self.form = QFormLayout(self)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.form.addRow(label(text))
        self.who, self.other = ChoiceBox(), QLineEdit()
        self.error = label("", "error")
        self.error.hide()

    def add_who(self, names: Sequence[str], chosen: int) -> None:
        """Ask who does it: one of some names, or another one that is typed.

        Args:
            names: those that are offered.
            chosen: the place of the one that is chosen at first.
        """
        self.who.addItems([*names, tr("another:")])
        self.who.setCurrentIndex(chosen)
        self.who.currentIndexChanged.connect(self._show_other)
        self.other.setAccessibleName(tr("Another: who?"))
        self.form.addRow(tr("&Who:"), self.who)
        self.form.addRow("", self.other)
        self._show_other()

    def _show_other(self) -> None:
        is_other = self.who.currentIndex() == self.who.count() - 1
        self.other.setVisible(is_other)
        if is_other:
            self.other.setFocus()

    def by_whom(self) -> str:
        """Who does it, as it is kept."""
        is_other = self.who.currentIndex() == self.who.count() - 1
        return self.other.text().strip() if is_other else self.who.currentText()

    def add_end(self) -> None:
        """Add the place for what is refused, and the buttons."""
        self.form.addRow(self.error)
        buttons = dialog_buttons((QDialogButtonBox.StandardButton.Cancel, tr("Cancel")))
        ok = buttons.addButton(tr("OK"), QDialogButtonBox.ButtonRole.AcceptRole)
        ok.setDefault(True)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.form.addRow(buttons)

    def refuse(self, why: str) -> None:
        """Show why the answers are not kept; the dialog stays open."""
        self.error.setText(why)
        self.error.show()
        self.adjustSize()
        announce_at(self, why)


class DoneDialog(_RemedyDialog):
    """Asks when a remedy was done and by whom, with a note.

    Args:
        remedy: what is done, in words.
        today: where the visit is.
        who: who does it as a rule.
        practitioner: name of who measures; empty where it is not stated.
        keep: takes the day, by whom and the note; a sentence that it returns is why it is refused.
        parent: the window that it belongs to.
    """

    def __init__(
        self,
        remedy: str,
        today: date,
        who: Who,
        practitioner: str,
        keep: Callable[[str, str, str], str | None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(tr("It is done"), remedy, parent)
        self._today, self._keep = today, keep
        self.day, self.note = QLineEdit(today.isoformat()), QLineEdit()
        self.day.setToolTip(tr(DAY_FORM))
        names = [tr(WHO_WORDS[Who.HOUSEHOLD]), tr(WHO_WORDS[Who.ELECTRICIAN])]
        names.append(tr("I, {name}").format(name=practitioner) if practitioner else tr("I, who measures"))
        self._kept_names = [*names[:2], practitioner or tr(WHO_WORDS[Who.PRACTITIONER])]
        self.form.addRow(tr("&Day:"), self.day)
        self.add_who(names, {Who.ELECTRICIAN: 1, Who.PRACTITIONER: 2}.get(who, 0))
        self.form.addRow(tr("&Note:"), self.note)
        self.add_end()
        self.day.setFocus()
        self.day.selectAll()

    def by_whom(self) -> str:
        """See `_RemedyDialog`; who measures is kept by name."""
        place = self.who.currentIndex()
        return self._kept_names[place] if place < len(self._kept_names) else super().by_whom()

    def accept(self) -> None:
        """Keep it, and close; where it is refused, say why."""
        typed = self.day.text().strip()
        # Today is now: what is read from this moment on is read after it.
        day = "" if typed == self._today.isoformat() else typed
        why = why_no_day(typed, self._today) or self._keep(day, self.by_whom(), self.note.text().strip())
        if why:
            self.refuse(why)
        else:
            super().accept()


class OwnRemedyDialog(_RemedyDialog):
    """Asks for a remedy in the user's own words, the spot that it is about, and who does it.

    Args:
        spots: of the visit, in their order.
        chosen: place of the spot that is chosen at first; -1 for none.
        keep: takes the words, the spot's id and by whom; a sentence that it returns is why it is refused.
        parent: the window that it belongs to.
    """

    def __init__(
        self,
        spots: Sequence[Spot],
        chosen: int,
        keep: Callable[[str, int | None, str], str | None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(
            tr("Own remedy"),
            tr("In your own words. Nothing is predicted for it: a reading tells what it brings."),
            parent,
        )
        self._spots, self._keep = list(spots), keep
        self.words, self.spot = QLineEdit(), ChoiceBox()
        self.spot.addItems([tr("no spot in particular"), *(spot.name for spot in spots)])
        self.spot.setCurrentIndex(chosen + 1)
        self.form.addRow(tr("W&hat is to be done:"), self.words)
        self.form.addRow(tr("At which &spot:"), self.spot)
        self.add_who([tr(WHO_WORDS[Who.HOUSEHOLD]), tr(WHO_WORDS[Who.ELECTRICIAN])], 0)
        self.add_end()
        self.words.setFocus()

    def accept(self) -> None:
        """Keep it, and close; where it is refused, say why."""
        place = self.spot.currentIndex() - 1
        spot_id = self._spots[place].id if place >= 0 else None
        if why := self._keep(self.words.text().strip(), spot_id, self.by_whom()):
            self.refuse(why)
        else:
            super().accept()
