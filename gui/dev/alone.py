"""Opens one part of the window alone, on the demo visit: `python -m gui.shell.readout`."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QVBoxLayout, QWidget

from gui.app import make_application
from gui.dev.demo import demo_visit
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, SessionWidget
from gui.widgets.theme import Sizes, current, style_sheet


def show_alone(make: Callable[[VisitController, Appearance], SessionWidget], width: int, height: int) -> None:
    """Show a part until its window is closed."""
    application = make_application()
    with tempfile.TemporaryDirectory() as folder:
        log, clock = demo_visit(Path(folder))
        look = Appearance(current(), Sizes.for_height(720))
        holder = QWidget()
        holder.setObjectName("window")
        holder.setStyleSheet(style_sheet(look.theme, look.sizes))
        layout = QVBoxLayout(holder)
        layout.setContentsMargins(0, 0, 0, 0)
        part = make(VisitController(log, clock), look)
        part.set_look(look)
        layout.addWidget(part)
        holder.resize(width, height)
        holder.setWindowTitle(make.__name__ if isinstance(make, type) else "Stillvolt")
        holder.show()
        application.exec()
        log.close()
