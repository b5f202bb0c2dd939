"""A longer search for packs that crash the check, or pass it though they were changed.

`make fuzz` runs it; `make test` runs a short piece of it.
"""
