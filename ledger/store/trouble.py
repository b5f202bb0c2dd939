"""What a database complains about, said once in the words of the ledger."""

from typing import Final

from ledger.errors import ConflictError, LedgerError, RefusedError, SealError

ENTRY_APPEND_ONLY: Final = "entry_append_only"
ENTRY_SEQ_NOT_NEXT: Final = "entry_seq_not_next"
ENTRY_LEAF_REPEATED: Final = "entry_leaf_repeated"
DISCLOSURE_UNCHANGEABLE: Final = "disclosure_unchangeable"

_BY_TRIGGER: Final[dict[str, tuple[type[LedgerError], str]]] = {
    ENTRY_APPEND_ONLY: (
        RefusedError,
        "refuses to change or remove an entry; record a correction instead",
    ),
    ENTRY_SEQ_NOT_NEXT: (
        ConflictError,
        (
            "refuses an entry whose seq is not the next: somebody else recorded one in the "
            "meantime; look at it and try again"
        ),
    ),
    ENTRY_LEAF_REPEATED: (
        ConflictError,
        "refuses an entry that it already holds; look at what is recorded",
    ),
    DISCLOSURE_UNCHANGEABLE: (
        RefusedError,
        "refuses to change a disclosure; it can only be deleted, which erases the value",
    ),
}

_LOCKED = (
    ConflictError,
    "is locked by another program; wait until that has finished and try again",
)
_READ_ONLY = (
    ConflictError,
    "cannot be written to; check the permissions of the file, its directory and user",
)
_FULL = (ConflictError, "has no room left on its disk; make room and try again")
_UNREACHABLE = (
    ConflictError,
    "cannot be opened; check its name, and that it is there and may be read",
)
_DAMAGED = (
    SealError,
    (
        "is damaged; copy it aside and restore the last backup, or build it again from the "
        "last audit pack"
    ),
)
_FAILING = (
    ConflictError,
    (
        "cannot be read or written because the disk reports an error; check the disk and "
        "copy the file aside"
    ),
)
_NOT_OURS = (
    ConflictError,
    "is not a database; name the file of a ledger, or one that does not exist yet",
)
_OVERTAKEN = (
    ConflictError,
    "was written to by somebody else in the meantime; try again",
)
# By the beginning of SQLite's name for the error, or of PostgreSQL's SQLSTATE.
_BY_CODE: Final[dict[str, tuple[type[LedgerError], str]]] = {
    "SQLITE_BUSY_SNAPSHOT": _OVERTAKEN,
    "SQLITE_BUSY": _LOCKED,
    "SQLITE_LOCKED": _LOCKED,
    "SQLITE_READONLY": _READ_ONLY,
    "SQLITE_PERM": _READ_ONLY,
    "SQLITE_AUTH": _READ_ONLY,
    "SQLITE_FULL": _FULL,
    "SQLITE_CANTOPEN": _UNREACHABLE,
    "SQLITE_CORRUPT": _DAMAGED,
    "SQLITE_NOTADB": _NOT_OURS,
    "SQLITE_IOERR": _FAILING,
    "55P03": _LOCKED,
    "40": _OVERTAKEN,
    "25006": _READ_ONLY,
    "42501": _READ_ONLY,
    "53100": _FULL,
    "08": _UNREACHABLE,
    "28": _UNREACHABLE,
    "3D000": _UNREACHABLE,
    "57P": _UNREACHABLE,
    "53300": _UNREACHABLE,
    "XX001": _DAMAGED,
    "XX002": _DAMAGED,
    "58": _FAILING,
}
_CONSTRAINTS = ("SQLITE_CONSTRAINT", "23")


def translated(error: BaseException, place: str) -> LedgerError | None:
    """Return what a driver's complaint means, or None where it is a bug of ours.

    Args:
        error: What the driver of the database raised.
        place: File or address of the database, without a password.
    """
    said = str(error).strip().partition("\n")[0]
    code = _code_of(error)
    found = next((known for name, known in _BY_TRIGGER.items() if name in said), None)
    found = found or next(
        (known for start, known in _BY_CODE.items() if code.startswith(start)), None
    )
    if found is None and code.startswith(_CONSTRAINTS):
        found = (RefusedError, f"refuses what was to be written ({said})")
    if found is None:
        return None
    kind, sentence = found
    return kind(f"the database {place} {sentence}")


def _code_of(error: BaseException) -> str:
    code = getattr(error, "sqlite_errorname", None) or getattr(error, "sqlstate", None)
    if code is None and type(error).__name__ == "OperationalError":
        # A server that was never reached has no code to give.
        return "08"
    return code or ""
