"""What moved the accounts of a scheme in a quarter: receipts, sales, what came back."""

from collections.abc import Iterator

from ledger.books.account import Account
from ledger.books.claimed import lines_out, take_back, withdraw
from ledger.books.effect import Book, Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, require
from ledger.books.quarter import Quarter
from ledger.books.shelf import Movement, Shelf
from ledger.trade.grams import to_grams
from ledger.trade.sale import ClaimWithdrawn, SaleDispatched, SaleReturned

GivingBack = SaleReturned | ClaimWithdrawn
"""What gives claims back: goods that return, and claims that are withdrawn."""


def accounts_of(shelf: Shelf, scheme: str) -> Iterator[Account]:
    """Yield the accounts of a scheme that ever moved."""
    for tally in shelf.tallies(Book.ACCOUNT):
        account = Account.of(tally)
        if account.scheme == scheme:
            yield account


def moved_in(
    shelf: Shelf, scheme: str, quarter: Quarter
) -> Iterator[tuple[Account, Movement, Recorded]]:
    """Yield the movements of a scheme's accounts in a quarter, with what moved them."""
    for account in accounts_of(shelf, scheme):
        run = shelf.run(account.tally, since=quarter.first, until=quarter.last)
        yield from (
            (account, movement, found)
            for movement in run.movements
            if (found := shelf.at(movement.slot)) is not None
        )


def entries_in(shelf: Shelf, scheme: str, quarter: Quarter) -> Iterator[Recorded]:
    """Yield what happened in a quarter and moved a scheme's accounts, in slot order."""
    moved = {found.slot: found for _, _, found in moved_in(shelf, scheme, quarter)}
    for _, found in sorted(moved.items()):
        if quarter.first <= found.occurred_on <= quarter.last:
            yield found


def sale_of(shelf: Shelf, found: Recorded) -> Recorded | None:
    """Return the sale that an entry is, or gives back from; None for any other entry."""
    if isinstance(found.record, SaleDispatched):
        return found
    if isinstance(found.record, GivingBack):
        return require(
            shelf, Subject(SubjectKind.SALE, found.record.sale), field="sale"
        )
    return None


def claimed_by_lot(
    shelf: Shelf, found: Recorded, scheme: str
) -> Iterator[tuple[str, int]]:
    """Yield lots with the grams that a sale claims, or that its claims give back."""
    if isinstance(found.record, SaleDispatched):
        for line in found.record.lines:
            if any(claim.scheme == scheme for claim in line.claims):
                yield line.lot, to_grams(line.mass_kg)
        return
    sold = sale_of(shelf, found)
    if sold is None:
        return
    lines = lines_out(shelf, expect(sold.record, SaleDispatched), before=found.slot)
    if isinstance(found.record, SaleReturned):
        back = take_back(lines, found.record)
    else:
        back = withdraw(lines, expect(found.record, ClaimWithdrawn))
    for part in back:
        yield part.line.lot, part.claims_g.get(scheme, 0)
