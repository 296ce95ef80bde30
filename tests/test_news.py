"""The list of what is new goes with the version, and with the package."""

from __future__ import annotations

import re
from importlib.resources import files

import logger


def test_the_version_has_its_entry_and_at_most_one_is_announced_above_it() -> None:
    text = files(logger).joinpath("NEWS.md").read_text(encoding="utf-8")
    versions = re.findall(r"^## (\d+\.\d+\.\d+)$", text, re.M)
    assert versions.index(logger.__version__) <= 1
    numbers = [tuple(map(int, version.split("."))) for version in versions]
    assert numbers == sorted(set(numbers), reverse=True)


def test_each_entry_says_something() -> None:
    text = files(logger).joinpath("NEWS.md").read_text(encoding="utf-8")
    entries = re.split(r"^## .*$", text, flags=re.M)[1:]
    assert entries and all(re.search(r"^- \w", entry, re.M) for entry in entries)
