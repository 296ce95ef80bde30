"""The main window: the frame that puts the parts together, and what joins them."""

from gui.window.window import Window

__all__ = ["Window"]
