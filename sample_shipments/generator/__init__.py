"""Writes the invented scenario: plain arithmetic, no randomness, no library."""
