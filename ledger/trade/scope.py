"""What a program may do with a token: some of what its person may do, never more."""

from enum import StrEnum


class Scope(StrEnum):
    """One thing that a token allows; a token may allow several."""

    READ = "read"
    """Reads entries and figures."""
    RECORD = "record"
    """Records entries and files, and asks what recording one would do."""
    PACK = "pack"
    """Makes audit packs and fetches them."""
    SIGN = "sign"
    """Signs checkpoints."""
