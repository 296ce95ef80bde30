"""The entries of a visit log as plain values."""
