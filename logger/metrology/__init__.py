"""What a value means: uncertainty, checks, set-up, comparability."""
