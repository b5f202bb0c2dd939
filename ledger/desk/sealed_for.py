"""Which sealed values people see, by their role.

What is sealed is what not everybody needs: personal data, prices agreed with others and
what customers paid. The compliance officer opens all of it, the buyer what buying needs,
and the floor nothing: the less is opened, the less can leave the house. Data protection
law may ask for more or for less; follow what holds where you are.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from ledger.chain.canonical import JsonValue
from ledger.trade.role import Role
from ledger.trade.words import PartyRole

_OF_BUYING: Final = frozenset(
    {"contract.signed", "price.fixed", "payment.made", "advance.requested"}
)
_ALL: Final = frozenset({Role.COMPLIANCE, Role.CERTIFIER})
"""A certifier's books hold nothing but what a pack discloses, and all of it is open."""
_CUSTOMERS: Final = frozenset({PartyRole.CUSTOMER.value})


class EntryReader(Protocol):
    """Somebody who reads entries, one by one."""

    def sees_entry(self, seq: int) -> bool:
        """Tell whether an entry is shown at all."""

    def sees(self, kind: str, member: str, body: Mapping[str, JsonValue]) -> bool:
        """Tell whether a sealed member of a body is shown."""


@dataclass(frozen=True, slots=True)
class RoleReader:
    """Somebody who has signed in.

    Attributes:
        roles: What the person may do.
    """

    roles: Collection[Role]

    def sees_entry(self, seq: int) -> bool:
        """Tell that every entry of the books that somebody may open is shown."""
        return bool(self.roles) and seq >= 0

    def sees(
        self,
        kind: str,
        member: str,  # noqa: ARG002 - a reader of packs asks for it
        body: Mapping[str, JsonValue],
    ) -> bool:
        """Tell whether a sealed member of a body is shown.

        Args:
            kind: Kind of the entry, or of what stands in for it.
            member: Name of the member.
            body: The body, with what is sealed taken out.
        """
        if _ALL & set(self.roles):
            return True
        if Role.BUYER not in self.roles:
            return False
        if kind in _OF_BUYING:
            return True
        roles = body.get("roles")
        return (
            kind == "party.registered"
            and isinstance(roles, list)
            and not _CUSTOMERS.issuperset(map(str, roles))
        )
