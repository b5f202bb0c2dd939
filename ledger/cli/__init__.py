"""The command line: parse, ask the desk, show."""
