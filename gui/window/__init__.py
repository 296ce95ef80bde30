"""The main window: the frame that puts the parts together, and the one place where keys are dispatched."""

from gui.window.window import Window

__all__ = ["Window"]
