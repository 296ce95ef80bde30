"""The families of faults of `scripts/bench/faults.py`."""
