"""The stage Prepare: what is stated once for a visit."""
