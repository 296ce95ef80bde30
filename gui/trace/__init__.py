"""The trace: live, and as still pictures of what a reading rests on."""
