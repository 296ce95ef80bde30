"""What is written of visits: the report, the blank form, exports, comparisons, the archive."""
