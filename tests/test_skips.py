"""Where skips are forbidden, a skip fails; proven on test files made for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.skips import LISTED

ROOT = Path(__file__).parents[1]

pytest_plugins = ["pytester"]

SKIPPED = """
import pytest

@pytest.mark.skipif(True, reason="the program is not installed")
def test_by_a_mark(): ...

def test_while_it_runs():
    pytest.skip("the program is not installed")

@pytest.mark.skipif(True, reason="Windows has no such thing")
def test_for_a_listed_reason(): ...

def test_that_runs(): ...

@pytest.mark.xfail
def test_that_is_expected_to_fail():
    raise AssertionError
"""
SKIPPED_AS_A_FILE = """
import pytest

pytest.importorskip("no_such_module")
"""


@pytest.fixture
def project(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> pytest.Pytester:
    """Test files of which some tests skip."""
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))  # for the processes of xdist
    pytester.makeconftest("pytest_plugins = ['tests.support.skips']")
    pytester.makepyfile(test_skipped=SKIPPED)
    return pytester


def test_a_skip_fails_where_it_is_forbidden_and_not_listed(project: pytest.Pytester) -> None:
    """Also where other processes run the tests, as in the test command."""
    project.makepyfile(test_skipped_as_a_file=SKIPPED_AS_A_FILE)
    found = project.runpytest("--forbid-skips", "-n", "1", "--continue-on-collection-errors")
    # The file fails as it is collected, the mark as the test is set up.
    found.assert_outcomes(passed=1, xfailed=1, skipped=1, failed=1, errors=2)
    found.stdout.fnmatch_lines(["*not list: the program is not installed*"])
    found.stdout.fnmatch_lines(["*not list: could not import 'no_such_module'*"])
    assert found.ret == pytest.ExitCode.TESTS_FAILED


def test_in_ci_it_is_forbidden_without_being_asked(
    project: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CI", "true")
    assert project.runpytest().ret == pytest.ExitCode.TESTS_FAILED


def test_at_the_desk_a_skip_is_a_skip(project: pytest.Pytester) -> None:
    found = project.runpytest()
    found.assert_outcomes(passed=1, xfailed=1, skipped=3)
    assert found.ret == pytest.ExitCode.OK


def test_the_list_is_of_what_cannot_be_installed() -> None:
    assert not any(word in " ".join(LISTED) for word in ("install", "missing", "not found", "import"))
