"""The tree of errors: everything that evenweight raises on purpose.

LedgerError
├── InputError      what came in cannot be read as what it should be
├── RefusedError    well-formed, but the books or the store say no
├── NotFoundError   nothing of that name is recorded
├── ConflictError   somebody else got there first, or the database is not ours
└── SealError       bytes, chain, tree, signature or disclosure do not hold

Doors (the command line, the pages) catch `LedgerError` and nothing else, show its
message as one sentence and leave with its exit status. Anything else is a bug and
keeps its traceback.
"""

from typing import ClassVar


class LedgerError(Exception):
    """Stops an operation; nothing of it has been written.

    The message is one lower-case sentence that names the field, the value, the rule
    and the way out.
    """

    exit_status: ClassVar[int] = 2


class InputError(LedgerError):
    """What came in cannot be read as what it should be."""


class RefusedError(LedgerError):
    """The entry is well-formed, but a rule of the books or the store forbids it."""

    exit_status: ClassVar[int] = 1


class NotFoundError(LedgerError):
    """Nothing of that name is recorded."""


class ConflictError(LedgerError):
    """Somebody else got there first, or the database is not one of ours."""


class SealError(LedgerError):
    """Bytes, chain, tree, signature or disclosure do not hold together."""

    exit_status: ClassVar[int] = 3
