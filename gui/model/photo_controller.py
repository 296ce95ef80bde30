"""Photos of spots: added from files that are read beside the window, moved, taken off, given another caption.

In: files that the user chose. Out: edits that can be undone; what is no picture is refused in a sentence, and the
others are added.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

from gui.model.cached_task import single_process
from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import Message, VisitAccess
from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.plain_text import one_line
from logger.translation import tr, tr_n
from logger.visit.records.home_records import Spot
from logger.visit.records.photo import MAX_PHOTOS_OF_SPOT, Photo


def _read_photo(path: Path) -> bytes:
    """The photo that is kept of a file."""
    from logger.visit.photo_file import kept_photo  # noqa: PLC0415 - Pillow: the window starts without it

    return kept_photo(path)


@dataclass(frozen=True, slots=True)
class _Adding:
    spot: Spot
    files: tuple[tuple[Path, Future[bytes]], ...]


class PhotoController:
    """The photos of the visit.

    Args:
        access: the visit.
        history: notes the edits, so that they can be undone.
    """

    def __init__(self, access: VisitAccess, history: UndoHistory) -> None:
        self._access = access
        self._history = history
        self.make_executor: Callable[[], Executor] = single_process
        """Makes what reads picture files: a process of its own, which a picture may end without harm to the window."""
        self._executor: Executor | None = None
        self._adding: _Adding | None = None

    # --- what there is -----------------------------------------------------------------------------------------

    def of_spot(self, spot: Spot) -> list[Photo]:
        """The photos of a spot in the order in which they were added."""
        return [photo for photo in self._access.snapshot.photos if photo.spot_id == spot.id]

    def picture(self, photo: Photo) -> bytes:
        """The picture as a JPEG; raises StillvoltError where it is none that the log may have."""
        return self._access.log.photos.picture(photo.id)

    def why_not_add(self, spot: Spot | None) -> str:
        """Why no photo can be added to a spot, in a sentence; empty where one can."""
        if spot is None:
            return tr("There is no chosen spot.")
        if self._adding is not None:
            return tr("Photos of “{spot}” are being read. Wait a moment.").format(spot=self._adding.spot.name)
        if len(self.of_spot(spot)) >= MAX_PHOTOS_OF_SPOT:
            return tr("“{spot}” has {n} photos already. Take one off first.").format(
                spot=spot.name, n=grouped(len(self.of_spot(spot)))
            )
        return ""

    # --- adding ------------------------------------------------------------------------------------------------

    def add(self, spot: Spot, paths: Sequence[Path]) -> bool:
        """Begin to add photos from files; `poll` ends it. False when refused: none is added then.

        Args:
            spot: where they belong.
            paths: the files.
        """
        if not paths:
            return False
        free = MAX_PHOTOS_OF_SPOT - len(self.of_spot(spot))
        why = self.why_not_add(spot)
        if not why and len(paths) > free:
            why = tr_n(
                "“{spot}” has room for {n} more photo, and {chosen} were chosen. None was added.",
                "“{spot}” has room for {n} more photos, and {chosen} were chosen. None was added.",
                free,
            ).format(spot=spot.name, n=grouped(free), chosen=grouped(len(paths)))
        if why:
            self._access.refuse(why)
            return False
        if self._executor is None:
            self._executor = self.make_executor()
        self._adding = _Adding(
            spot, tuple((path, self._executor.submit(_read_photo, path)) for path in paths)
        )
        self._access.message = Message(
            tr("Photos are being read for “{spot}”...").format(spot=spot.name), is_progress=True
        )
        return True

    def poll(self) -> bool:
        """Enter the photos that were read since; True where adding has ended."""
        adding = self._adding
        if adding is None or not all(reading.done() for _, reading in adding.files):
            return False
        self._adding = None
        pictures: list[bytes] = []
        refusals: list[StillvoltError] = []
        for path, reading in adding.files:
            try:
                pictures.append(reading.result())
            except StillvoltError as error:
                refusals.append(error)
            except Exception as error:  # a worker that was ended, or a decoder that failed in an unknown way
                if isinstance(error, BrokenProcessPool):
                    self.close()
                else:
                    log_exception("reading a picture file")
                what = tr("“{name}” could not be read.").format(name=one_line(path.name))
                refusals.append(StillvoltError(what, tr("Nothing was added.")))
        self._enter(adding.spot, pictures, refusals)
        return True

    def _enter(self, spot: Spot, pictures: Sequence[bytes], refusals: Sequence[StillvoltError]) -> None:
        """Add what was read as one edit, and say what was refused."""
        store = self._access.log.photos
        ids: list[int] = []

        def do() -> str:
            entered_by = self._access.log.practitioner.current().name
            for picture in pictures:
                try:
                    ids.append(store.add(spot.id, picture, entered_by=entered_by).id)
                except StillvoltError as error:
                    refused.append(error)
            if ids:
                self._remember(spot, ids)
            return tr_n(
                "{n} photo of “{spot}” was added.", "{n} photos of “{spot}” were added.", len(ids)
            ).format(n=grouped(len(ids)), spot=spot.name)

        refused = list(refusals)
        if pictures and not self._access.do(do):
            return
        if refused:
            # Beside photos that were added it would be wrong that nothing was.
            said = [f"{one.what} {one.next_step}".strip() if ids else str(one) for one in refused]
            text = " ".join(([self._access.message.text] if ids else []) + said)
            self._access.message = Message(text, refused=not ids)

    def _remember(self, spot: Spot, ids: Sequence[int]) -> None:
        store, kept = self._access.log.photos, tuple(ids)

        def each(run: Callable[[int], None]) -> Callable[[], None]:
            def do() -> None:
                for photo_id in kept:
                    run(photo_id)

            return do

        self._history.remember_edit(
            UndoableEdit(
                tr("add photos of “{spot}”").format(spot=spot.name),
                each(store.take_off),
                each(store.bring_back),
                tr("The photos are off the spot again."),
            )
        )

    # --- what becomes of one -----------------------------------------------------------------------------------

    def move(self, photo: Photo, spot: Spot) -> bool:
        """Let a photo belong to another spot; False when refused."""
        store, before = self._access.log.photos, photo.spot_id

        def do() -> str:
            if len(self.of_spot(spot)) >= MAX_PHOTOS_OF_SPOT:
                raise StillvoltError(self.why_not_add(spot), tr("Nothing was changed."))
            store.move(photo.id, spot.id)
            if before is not None:
                self._history.remember_edit(
                    UndoableEdit(
                        tr("move a photo to “{spot}”").format(spot=spot.name),
                        lambda: store.move(photo.id, before),
                        lambda: store.move(photo.id, spot.id),
                    )
                )
            return tr("The photo belongs to “{spot}” now.").format(spot=spot.name)

        return self._access.do(do)

    def take_off(self, photo: Photo) -> bool:
        """Take a photo off its spot; it stays in the log, and undo brings it back. False when refused."""
        store = self._access.log.photos

        def do() -> str:
            store.take_off(photo.id)
            self._history.remember_edit(
                UndoableEdit(
                    tr("take a photo off"),
                    lambda: store.bring_back(photo.id),
                    lambda: store.take_off(photo.id),
                    tr("The photo is back."),
                )
            )
            return tr("The photo was removed from the spot. Undo brings it back.")

        return self._access.do(do)

    def set_caption(self, photo: Photo, caption: str) -> bool:
        """Give a photo another caption: it is added again with that one, as nothing in the log is changed.

        Returns:
            False when refused.
        """
        store = self._access.log.photos

        def do() -> str:
            if photo.spot_id is None or caption.strip() == photo.caption:
                return tr("The caption is as before.")
            new = store.add(photo.spot_id, store.picture(photo.id), photo.kind, caption, photo.entered_by)
            store.take_off(photo.id)

            def undo() -> None:
                store.take_off(new.id)
                store.bring_back(photo.id)

            def redo() -> None:
                store.take_off(photo.id)
                store.bring_back(new.id)

            self._history.remember_edit(
                UndoableEdit(tr("caption of a photo"), undo, redo, tr("The caption is as before."))
            )
            return tr("The caption is kept.")

        return self._access.do(do)

    # --- leaving -----------------------------------------------------------------------------------------------

    def unfinished(self) -> str:
        """What would be lost if the window went now, in a sentence; empty where nothing would."""
        self.poll()
        return (
            tr("Photos of “{spot}” are being read.").format(spot=self._adding.spot.name)
            if self._adding
            else ""
        )

    def give_up(self) -> None:
        """Add none of the photos that are being read."""
        self._adding = None

    def close(self) -> None:
        """End what reads picture files."""
        self._adding = None
        if self._executor is not None:
            self._executor.shutdown(wait=False, cancel_futures=True)
            self._executor = None
