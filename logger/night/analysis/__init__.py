"""A night as pure numbers: its summary, loads that come again, planned switchings, and two nights compared."""
