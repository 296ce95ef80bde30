"""What the window knows and does, without a widget; see README.md."""
