"""What was brought in last, by name."""

from ledger.store.rows import Rows


def latest_names(rows: Rows, kind: str, *, most: int) -> tuple[str, ...]:
    """Return the names of the subjects of a kind that were brought in last.

    Args:
        rows: The ledger.
        kind: Sort of subject, such as "lot".
        most: How many at most; the last of them first.
    """
    found = rows(
        "SELECT name FROM introduced WHERE kind = :kind "
        "ORDER BY slot DESC, line DESC LIMIT :most",
        {"kind": kind, "most": most},
    )
    return tuple(name for (name,) in found)
