"""Pages in a browser: faces over the desk, with no rules of the trade."""
