"""Which sealed values a pack shows its reader."""

from collections.abc import Collection, Iterator, Mapping
from typing import TYPE_CHECKING, Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import parse_entry
from ledger.chain.seal import parse_disclosure
from ledger.store.entries import entry_raw, stream_disclosures
from ledger.trade.sale import SaleDispatched
from ledger.trade.words import PartyRole

if TYPE_CHECKING:
    from ledger.store.rows import Rows

NEVER_SHOWN: Final = frozenset({"address", "contacts", "value"})
"""Sealed members on which no figure rests: addresses, contacts, values of sales."""

_NAME: Final = "legal_name"


def customers_of(shelf: Shelf, sales: Collection[str]) -> frozenset[str]:
    """Return the parties that bought in some sales."""
    found = (shelf.introducer(Subject(SubjectKind.SALE, sale)) for sale in sales)
    return frozenset(
        expect(recorded.record, SaleDispatched).customer
        for recorded in found
        if recorded is not None
    )


def shown_disclosures(
    rows: "Rows", *, customers: Collection[str]
) -> Iterator[tuple[int, str]]:
    """Yield the disclosures that a pack carries, in order of entry and digest.

    Prices and their fixations are shown, because dues rest on them, and the names of all
    parties but customers.

    Args:
        rows: The ledger.
        customers: Customers whose names are shown all the same.

    Yields:
        Number of the entry and text of the disclosure.
    """
    for seq, text in stream_disclosures(rows):
        name = parse_disclosure(text).name
        if name in NEVER_SHOWN:
            continue
        if name != _NAME or _may_be_named(
            parse_entry(entry_raw(rows, seq)).body, customers
        ):
            yield seq, text


def _may_be_named(body: Mapping[str, JsonValue], customers: Collection[str]) -> bool:
    match body:
        case {"replacement": {"body": {"party": party, "roles": [*roles]}}}:
            pass
        case {"party": party, "roles": [*roles]}:
            pass
        case _:
            return False
    return roles != [PartyRole.CUSTOMER] or party in customers
