"""A visit as files that any program reads."""
