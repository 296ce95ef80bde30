"""Keeps the computer from sleeping by itself while it records, as far as the system lets a program do that."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

from logger.diagnostics import log_exception, logged

CANNOT = (
    "This computer could not be kept from sleeping by itself: switch automatic sleep off in its settings for the "
    "night, and leave the lid open."
)


@contextmanager
def kept_awake(tell: Callable[[str], None]) -> Iterator[None]:
    """Within it the computer does not fall asleep by itself; the screen may go dark. A closed lid is another matter.

    Args:
        tell: is given one sentence when the system does not do it. Recording goes on all the same.
    """
    stack = ExitStack()
    # Whatever the library meets on its way to the desktop must not cost the night.
    try:
        from wakepy import keep  # 70 ms, only the recorder needs it

        active = stack.enter_context(keep.running(on_fail="pass")).active
    except Exception:
        log_exception("keeping the computer awake")
        active = False
    if not active:
        tell(CANNOT)
    try:
        yield
    finally:
        with logged("letting the computer sleep again"):
            stack.close()
