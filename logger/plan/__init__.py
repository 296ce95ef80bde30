"""From finding to proven remedy: what was decided, done, and what it brought."""
