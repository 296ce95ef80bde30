"""Nights of a visit: which runs are one night, the summary of a night, and two nights compared."""
