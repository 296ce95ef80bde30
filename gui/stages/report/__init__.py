"""The stage Report: write, compare with another visit, archive."""
