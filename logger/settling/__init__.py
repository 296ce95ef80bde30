"""Samples in, events out: finds settled spans, motion, steps, drift, gaps and overload in a trace."""
