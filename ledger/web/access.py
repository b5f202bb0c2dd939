"""Who may open a page: every page says it, and it is checked here and nowhere else."""

from collections.abc import Iterable
from typing import Final

from ledger.store.people import Person
from ledger.trade.role import Role

EVERYONE: Final = frozenset({"everyone"})
"""Also who has not signed in."""
SIGNED_IN: Final = frozenset(Role)
"""Whoever has signed in, whatever the role."""
BUYER: Final = frozenset({Role.BUYER, Role.COMPLIANCE})
FLOOR: Final = frozenset({Role.FLOOR, Role.COMPLIANCE})
MAKER: Final = frozenset({Role.BUYER, Role.FLOOR, Role.COMPLIANCE})
COMPLIANCE: Final = frozenset({Role.COMPLIANCE})
AUDIT: Final = frozenset({Role.COMPLIANCE, Role.CERTIFIER})
CERTIFIER: Final = frozenset({Role.CERTIFIER})
ADMINISTRATOR: Final = frozenset({Role.ADMINISTRATOR})
PROGRAMS: Final = MAKER | CERTIFIER
"""Whose programs may ask with a token."""


def may_open(person: Person | None, may: Iterable[str]) -> bool:
    """Tell whether somebody may open a page.

    Args:
        person: Who asks; None where nobody has signed in.
        may: Roles that may, or EVERYONE.
    """
    allowed = frozenset(may)
    if allowed == EVERYONE:
        return True
    return person is not None and not allowed.isdisjoint(person.roles)
