"""Mutation testing: spoil the books one change at a time; see if a test notices."""
