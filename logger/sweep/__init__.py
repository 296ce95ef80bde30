"""Sources of the body voltage: labelled steps, the breaker sweep at a spot, what to switch off, and advice."""
