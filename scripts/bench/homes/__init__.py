"""Invented homes that the report is tried on."""
