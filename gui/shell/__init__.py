"""The parts of the window that never leave the screen, and its prompts."""
