"""Files that come in, read into drafts of entries."""
