"""Which kinds of entry a role may record; asked wherever a person records something."""

from collections.abc import Collection, Mapping
from typing import Final

from ledger.errors import RefusedError
from ledger.trade.role import Role

_ANY_MAKER: Final = frozenset({Role.BUYER, Role.FLOOR, Role.COMPLIANCE})

_KEPT_BY: Final[Mapping[str, frozenset[Role]]] = {
    **dict.fromkeys(
        ("finding.noted", "finding.closed"),
        frozenset({Role.CERTIFIER}),
    ),
    **dict.fromkeys(
        ("access.granted", "access.ended"),
        frozenset({Role.ADMINISTRATOR}),
    ),
    **dict.fromkeys(
        (
            "ledger.opened",
            "terms.published",
            "limits.published",
            "correction",
            "hold.released",
            "period.closed",
            "checkpoint.signed",
            "disclosure.erased",
            "key.rotated",
            "key.revoked",
        ),
        frozenset({Role.COMPLIANCE}),
    ),
}
"""Kinds that only some roles record; any other kind is for whoever works for the maker."""


def may_record(roles: Collection[Role], kind: str) -> bool:
    """Tell whether somebody with some roles may record a kind of entry."""
    return not _KEPT_BY.get(kind, _ANY_MAKER).isdisjoint(roles)


def refuse_kind(roles: Collection[Role], kind: str) -> None:
    """Refuse a kind of entry that is not for the roles of who records it.

    Raises:
        RefusedError: It is not.
    """
    if not may_record(roles, kind):
        allowed = _KEPT_BY.get(kind, _ANY_MAKER)
        raise RefusedError(
            f"kind {kind} is for {' or '.join(sorted(allowed))} to record, and you are "
            f"{' and '.join(sorted(roles)) or 'none of these'}; ask somebody who is"
        )
