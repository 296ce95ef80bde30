"""The window on a visit log; see README.md."""
