"""The practice house below the trace."""
