"""Pages, tables and charts that go out."""
