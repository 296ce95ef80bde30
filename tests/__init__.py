"""Tests, mirroring the packages; a package, so that no other `tests` on the path takes its name."""
