"""The same verbs as the pages and commands, for programs: JSON under /api/v1."""
