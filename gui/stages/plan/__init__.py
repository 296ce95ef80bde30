"""The stage Night: start, night screen, morning, before and after."""
