"""A night as pure numbers: its summary, repeating loads, planned switchings, and two nights compared."""
