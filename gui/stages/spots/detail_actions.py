"""Actions on how somebody is at a spot: describe it, add photos from files, open one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtWidgets import QDialog, QWidget

from gui.model.visit_controller import VisitController
from gui.stages.spots.describe_dialog import DescribeDialog
from gui.stages.spots.photo_dialog import PhotoDialog
from gui.widgets.file_dialog import ask_files
from gui.widgets.keyboard_return import KeyboardReturn
from logger.translation import tr
from logger.visit.records.home_records import Spot
from logger.visit.records.photo import Photo

PICTURE_KINDS = "*.jpg *.jpeg *.jpe *.heic *.heif *.png *.webp *.bmp *.tif *.tiff"
"""As their names end; what is in a file decides, and not its name."""


class DetailActions:
    """Describes the chosen spot.

    Args:
        controller: the visit.
        parent: gives the window that the dialogs belong to.
        show_spots: goes to the stage Spots.
        redraw: shows in the window what is known after a change.
    """

    def __init__(
        self,
        controller: VisitController,
        parent: Callable[[], QWidget],
        show_spots: Callable[[], None],
        redraw: Callable[[], None],
    ) -> None:
        self._controller = controller
        self._parent, self._show_spots, self._redraw = parent, show_spots, redraw
        self.dialog: DescribeDialog | None = None
        """The dialog that describes a spot now; None while none does."""
        self.photo: PhotoDialog | None = None
        """The dialog that shows a photo now; None while none does."""
        self.folder = Path.home()
        """Where photos were chosen last, in which the next dialog begins."""
        self.remember_folder: Callable[[Path], object] = lambda _: None
        """Remembers that folder beyond this window; the window gives it."""
        self.choose_files: Callable[[Path, QWidget], Sequence[Path]] = choose_picture_files
        """Shows the system's dialog on a folder; a test gives its own."""

    def why_not_describe(self) -> str:
        """Why the chosen spot cannot be described, in a sentence; empty where it can."""
        return "" if self._controller.route.chosen is not None else tr("There is no chosen spot.")

    def why_not_add(self) -> str:
        """Why no photo can be added to the chosen spot, in a sentence; empty where one can."""
        return self._controller.photos.why_not_add(self._controller.route.chosen)

    def describe(self) -> None:
        """Ask how somebody is at the chosen spot."""
        spot = self._controller.route.chosen
        if spot is None or self.dialog is not None:
            return
        self._controller.route.edits_chosen()
        self._show_spots()
        self.dialog = dialog = DescribeDialog(self._controller, spot, self._parent())
        dialog.photos_wanted.connect(lambda: self._choose_for(spot, dialog))
        dialog.photo_opened.connect(lambda photo: self.open_photo(photo, dialog))
        dialog.finished.connect(self._described)
        self._open(dialog)

    def add_photos(self) -> None:
        """Ask for picture files, and add them to the chosen spot."""
        if (spot := self._controller.route.chosen) is not None:
            self._controller.route.edits_chosen()
            self._show_spots()
            self._choose_for(spot, self._parent())

    def add_files(self, row: int, paths: Sequence[Path]) -> None:
        """Add files that were dropped on the spot of that row."""
        spots = self._controller.snapshot.spots
        if 0 <= row < len(spots):
            self._controller.photos.add(spots[row], paths)
        self._redraw()

    def open_photo(self, photo: Photo, parent: QWidget | None = None) -> None:
        """Show a photo large.

        Args:
            photo: the photo.
            parent: what it is shown over; None for the window.
        """
        if self.photo is not None:
            return
        self.photo = PhotoDialog(self._controller, photo, parent or self._parent())
        self.photo.finished.connect(self._photo_closed)
        self._open(self.photo)

    def refresh(self) -> None:
        """Show in the open dialog what is known now."""
        if self.dialog is not None:
            self.dialog.refresh()

    def _choose_for(self, spot: Spot, parent: QWidget) -> None:
        paths = self.choose_files(self.folder if self.folder.is_dir() else Path.home(), parent)
        if paths:
            self.folder = paths[0].parent
            self.remember_folder(self.folder)
            self._controller.photos.add(spot, paths)
        self._redraw()

    def _open(self, dialog: QDialog) -> None:
        KeyboardReturn(dialog)
        dialog.open()

    def _described(self) -> None:
        self.dialog = None
        self._redraw()

    def _photo_closed(self) -> None:
        self.photo = None
        self._redraw()


def choose_picture_files(folder: Path, parent: QWidget) -> Sequence[Path]:
    """Show the system's dialog for pictures; none where it was cancelled."""
    kinds = tr("Pictures ({kinds});;All files (*)").format(kinds=PICTURE_KINDS)
    return ask_files(tr("Choose photos or sketches"), folder, kinds, parent)
