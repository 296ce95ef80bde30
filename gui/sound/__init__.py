"""Tones and speech."""
