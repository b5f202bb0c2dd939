"""What a form offers to choose from: what is recorded already, and words of the trade."""

import re
from collections.abc import Callable, Iterator
from datetime import date
from enum import StrEnum

from ledger.books.effect import SubjectKind
from ledger.books.fulfilment import on_the_way
from ledger.books.lookup import expect, opening
from ledger.books.shelf import Shelf
from ledger.trade.contract import ContractSigned
from ledger.trade.party import PartyRegistered
from ledger.trade.shipment import ShipmentDispatched
from ledger.trade.terms import TermsPublished
from ledger.trade.words import PartyRole
from ledger.web.entry_fields import Choice


def words(listed: type[StrEnum]) -> tuple[Choice, ...]:
    """Return the words of a closed list."""
    return tuple((one.value, one.value) for one in listed)


def contracts(shelf: Shelf) -> Iterator[Choice]:
    """Yield every contract, the youngest first."""
    for found in reversed(shelf.of_kind("contract.signed")):
        signed = expect(found.record, ContractSigned)
        yield (
            signed.contract,
            f"{signed.contract} · {signed.seller} · {signed.origin} · {signed.crop}",
        )


def parties(*roles: PartyRole) -> Callable[[Shelf], Iterator[Choice]]:
    """Return what yields the parties that have one of some roles."""

    def found(shelf: Shelf) -> Iterator[Choice]:
        for recorded in shelf.of_kind("party.registered"):
            party = expect(recorded.record, PartyRegistered)
            if not roles or not set(roles).isdisjoint(party.roles):
                yield (
                    party.party,
                    f"{party.party} · {party.legal_name or party.country}",
                )

    return found


def schemes(shelf: Shelf) -> Iterator[Choice]:
    """Yield every scheme of which terms are recorded."""
    found = shelf.of_kind("terms.published")
    for name in sorted({expect(one.record, TermsPublished).scheme for one in found}):
        yield name, name


def markets(shelf: Shelf) -> Iterator[Choice]:
    """Yield every market that has quotes, by the names of its quotes."""
    quotes = (one.name for one in shelf.subjects(SubjectKind.QUOTE))
    for name in sorted({re.split("[:@]", quote)[0] for quote in quotes}):
        yield name, name


def sites(shelf: Shelf) -> Iterator[Choice]:
    """Yield the sites of the maker."""
    for one in opening(shelf).sites:
        yield one.site, f"{one.site} · {one.place}"


def shipments_on_the_way(shelf: Shelf) -> Iterator[Choice]:
    """Yield the shipments that left and have not arrived."""
    for contract, left in on_the_way(shelf, date.max):
        name = expect(left.record, ShipmentDispatched).shipment
        yield name, f"{name} · {contract.contract} · {contract.seller}"
