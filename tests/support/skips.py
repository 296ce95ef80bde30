"""A test that is skipped proves nothing, so with --forbid-skips a skip is a failure unless its reason is listed here.

The test command and every run in CI forbid them: it must not happen that a program that the checks need is missing, and
that nobody notices. Without the option (one room at the desk) skips are as in any other project.
"""

from __future__ import annotations

import os
import re
from collections.abc import Generator

import pytest

LISTED = (
    r"Windows has no .*",
    r"only root may become another user",
    r"None is immortal from Python 3\.12 on",
)
"""What a skip may give as its reason, as regular expressions that the whole reason must match. Only what cannot be
installed stands here: another operating system, another Python, the rights of root."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Adds the option; it is on by itself where CI says that it is CI."""
    parser.addoption(
        "--forbid-skips",
        action="store_true",
        default=bool(os.environ.get("CI")),
        help="a skipped test fails unless its reason is listed in tests/support/skips.py",
    )


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A test that skips, by a mark or while it runs."""
    report = yield
    if not hasattr(report, "wasxfail"):
        _fail_if_skipped(report, item.config)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """A file that skips all of its tests while it is imported."""
    report = yield
    _fail_if_skipped(report, collector.config)
    return report


def _fail_if_skipped(report: pytest.TestReport | pytest.CollectReport, config: pytest.Config) -> None:
    if not report.skipped or not config.getoption("forbid_skips"):
        return
    # A skip is reported as (file, line, "Skipped: the reason").
    said = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    reason = said.removeprefix("Skipped: ")
    if not any(re.fullmatch(listed, reason) for listed in LISTED):
        report.outcome = "failed"
        report.longrepr = (
            f"{report.nodeid} was skipped for a reason that tests/support/skips.py does not list: {reason}"
        )
