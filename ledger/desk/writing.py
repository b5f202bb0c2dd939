"""What a desk needs in order to write: an open transaction, an author, a moment, salts."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.store.rows import Rows
    from ledger.trade.role import Role


@dataclass(frozen=True, slots=True)
class Writing:
    """One open transaction on a ledger, and what comes from outside.

    Attributes:
        rows: Answers and executes SQL within the transaction.
        by: Who records.
        now: Gives the moment of recording, in UTC.
        new_salt: Gives a fresh salt for a sealed value.
        roles: What who records may do in the ledger; None for whoever holds the
            ledger itself, who may do anything.
        key_for: Gives the public key of a ledger that is opened, from the short name of
            its maker and the key that was given, if any; None where none is kept.
        approved_by: Second person who stands behind what is recorded, where there is one
            and it is known who they are.
    """

    rows: "Rows"
    by: str
    now: Callable[[], datetime]
    new_salt: Callable[[], bytes]
    key_for: Callable[[str, str | None], str] | None = None
    approved_by: str | None = None
    roles: frozenset["Role"] | None = None
