"""Nights of a visit: which runs belong together, what a night was like, and two nights compared."""
