"""Two parts one above the other with a border that can be dragged; each keeps the height that its texts need."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QSplitter, QVBoxLayout, QWidget

PERMILLE = 1000


class SplitPart(QWidget):
    """One of the parts: a column of widgets, of which texts need other heights in other widths."""

    def __init__(self, spacing: int) -> None:
        super().__init__()
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(spacing)

    def minimumSizeHint(self) -> QSize:
        """See Qt, which would not count the lines that a text takes in this width."""
        least = self.column.minimumSize()
        if self.column.hasHeightForWidth() and self.width():
            least.setHeight(self.column.minimumHeightForWidth(self.width()))
        return least

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()


class Split(QSplitter):
    """The two parts.

    Args:
        spacing: between the widgets of a part, in pixels.
        usual_permille: of the height, that the upper part has until the user drags the border.
    """

    grasped = Signal()
    """The user has taken hold of the border, for the first time too."""
    dragged = Signal(int)
    """The border was let go: the upper part has so much of the height, in permille."""

    def __init__(self, spacing: int, usual_permille: int) -> None:
        super().__init__(Qt.Orientation.Vertical)
        self.above, self.below = SplitPart(spacing), SplitPart(spacing)
        for part in (self.above, self.below):
            self.addWidget(part)
        self.setChildrenCollapsible(False)
        self.setHandleWidth(spacing)
        self.share(usual_permille)
        self.most_above = 0
        """The upper part has no more height than that, in pixels, while the lower part can use it; 0 for no limit."""
        self._grasped_sizes: list[int] = []
        """What both had when the border was taken hold of: a mere click is no wish for another share."""
        self.handle(1).installEventFilter(self)

    def share(self, permille: int) -> None:
        """Give the upper part so much of the height from now on, as far as both have what they need at least."""
        self._permille = permille
        self.setStretchFactor(0, permille)
        self.setStretchFactor(1, PERMILLE - permille)

    def lay_out(self) -> None:
        """Lay both parts out anew at once, after something in them was shown, hidden or given another height."""
        for part in (self.above, self.below):
            part.column.invalidate()
            part.column.activate()
        # From its sizes of before Qt would only add what is missing: where the border stands depended on the way here.
        height = max(self.height() - self.handleWidth(), 0)
        above = height * self._permille // PERMILLE
        if self.most_above and self.handle(1).isEnabled():
            above = min(above, self.most_above)
        self.setSizes([above, height - above])
        self.updateGeometry()

    def let_drag(self, is_divided: bool) -> None:
        """Let the border be dragged; else the lower part has only the height that it needs."""
        self.handle(1).setEnabled(is_divided)
        policy = QSizePolicy.Policy.Preferred if is_divided else QSizePolicy.Policy.Maximum
        self.below.setSizePolicy(QSizePolicy.Policy.Preferred, policy)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Tell of the border's being dragged; see Qt."""
        if event.type() == QEvent.Type.MouseButtonPress:
            self.grasped.emit()
            self._grasped_sizes = self.sizes()
        elif event.type() == QEvent.Type.MouseButtonRelease and self.sizes() != self._grasped_sizes:
            above, below = self.sizes()
            permille = min(max(round(PERMILLE * above / max(above + below, 1)), 1), PERMILLE - 1)
            self.share(permille)
            self.dragged.emit(permille)
        return super().eventFilter(watched, event)
