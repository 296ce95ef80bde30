"""Two visits to the same home, compared spot by spot."""
