"""The visit log as an SQLite file."""
