"""Canonical bytes, digests, the tree and sealed values; knows nothing of cocoa."""
