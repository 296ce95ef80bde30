"""What is watched of the computer during a recording."""
