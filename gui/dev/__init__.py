"""A demo visit, and every part of the window opened alone."""
