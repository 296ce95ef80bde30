"""What the readings of a visit give together."""
