"""The pack for a certifier, and its check."""
