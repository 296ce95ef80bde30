"""The first page of the report, for the household: one file for each part of it."""
