"""The recorder: from a port to a visit log."""
