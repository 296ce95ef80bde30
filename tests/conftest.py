"""Keeps the tests out of the user's own settings, caches and diagnostic log."""

from __future__ import annotations

import gc
import os
import tempfile
from collections.abc import Iterator

import hypothesis
import pytest
from hypothesis import settings

from logger.simulation import register_simulated_port

register_simulated_port()

# A deadline for each example would be a wall-clock ceiling: it fails on a machine at work.
settings.register_profile("stillvolt", deadline=None)
settings.load_profile("stillvolt")

# No ceiling by the clock for one example: a loaded machine is slow, and pytest-timeout ends what hangs.
hypothesis.settings.register_profile("stillvolt", deadline=None)
hypothesis.settings.load_profile("stillvolt")

pytest_plugins = ["tests.support.skips", "tests.support.visit_fixtures", "tests.support.cable"]


def pytest_collection_finish() -> None:
    """What was imported and collected stays; the collector of garbage need not look through it again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture(scope="session", autouse=True)
def _own_folders() -> Iterator[None]:
    names = ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DOCUMENTS_DIR")
    before = {name: os.environ.get(name) for name in names}
    with tempfile.TemporaryDirectory(prefix="stillvolt-tests-") as folder:
        for name in names:
            os.environ[name] = os.path.join(folder, name)  # noqa: PTH118
        yield
    for name, value in before.items():
        if value is None:
            os.environ.pop(name, None)
        else:
            os.environ[name] = value
