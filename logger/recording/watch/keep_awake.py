"""Keeps the computer from sleeping by itself while it records, as far as the system lets a program do that."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

from logger.diagnostics import log_exception, logged
from logger.translation import kept_text

CANNOT_KEEP_AWAKE = kept_text(
    "This computer could not be kept from sleeping by itself: switch automatic sleep off in its settings for the "
    "night, and leave the lid open."
)


@contextmanager
def kept_awake(notify: Callable[[str], None]) -> Iterator[None]:
    """Keep the computer from falling asleep by itself; the screen may go dark, and closing the lid still suspends.

    Args:
        notify: receives one sentence where the system refuses; recording goes on all the same.
    """
    stack = ExitStack()
    # Whatever the library meets on its way to the desktop must not cost the night.
    try:
        from wakepy import keep  # noqa: PLC0415  start-up time: 70 ms, only the recorder needs it

        active = stack.enter_context(keep.running(on_fail="pass")).active
    except Exception:
        log_exception("keeping the computer awake")
        active = False
    if not active:
        notify(CANNOT_KEEP_AWAKE)
    try:
        yield
    finally:
        with logged("letting the computer sleep again"):
            stack.close()
