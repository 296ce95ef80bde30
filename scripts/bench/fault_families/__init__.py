"""The families of faults of `scripts/bench/faults.py`: each does to an installed command what an ordinary day may do."""
