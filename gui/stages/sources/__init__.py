"""The stage Sources: steps, breakers, what to switch off tonight."""
