"""The stage Spots: spots and readings, uncertainty budget."""
