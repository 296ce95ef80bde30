"""What keys and buttons do, by kind."""
