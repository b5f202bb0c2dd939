"""A part of a ledger that can be shown by itself, and what of the books it lets show.

A part is one scheme, a period, both, or one sale. It shows whole accounts and whole
contracts or none: an account of which a movement is missing would stand wrong, and a
contract of which a payment is missing would seem unpaid. What lots weigh is not shown,
because lots also go where the part does not look.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from ledger.books.account import Account
from ledger.books.effect import Book, Recorded, Subject, SubjectKind, Tally
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.trade.contract import ContractSigned
from ledger.trade.sale import SaleDispatched


@dataclass(frozen=True, slots=True)
class Portion:
    """A part of a ledger.

    Attributes:
        scheme: The scheme whose claims, accounts and contracts it is about; None for all.
        since: First trade date it is about; None from the beginning.
        until: Last trade date it is about; None to the end.
        sale: The one sale that it is about; nothing else is given then.
    """

    scheme: str | None = None
    since: date | None = None
    until: date | None = None
    sale: str | None = None

    @property
    def is_dated(self) -> bool:
        """Whether it is about a period."""
        return self.since is not None or self.until is not None

    def covers(self, day: date) -> bool:
        """Tell whether a trade date is one that it is about."""
        return (self.since is None or self.since <= day) and (
            self.until is None or day <= self.until
        )

    def keeps(self, tally: Tally) -> bool:
        """Tell whether a running total can be added up from it, or is of a lot.

        Of lots it tells too little to add them up, but a lot that it knows to be used up
        cannot give more.
        """
        if tally.book is Book.STOCK:
            return True
        if self.sale is not None:
            return False
        return self.scheme in {None, Account.of(tally).scheme}

    def has_contract(self, shelf: Shelf, contract: str) -> bool:
        """Tell whether everything about a contract is in it.

        Args:
            shelf: What is recorded, or what of it the part shows.
            contract: A contract that is recorded.
        """
        subject = Subject(SubjectKind.CONTRACT, contract)
        signed = shelf.introducer(subject)
        if signed is None:
            return False
        claims = expect(signed.record, ContractSigned).claims
        if self.scheme is not None and all(c.scheme != self.scheme for c in claims):
            return False
        return not self.is_dated or any(
            self.covers(found.occurred_on) for found in shelf.about(subject)
        )

    def has_sale(self, recorded: Recorded) -> bool:
        """Tell whether a sale is one of those that it is about, under a claim."""
        sale = expect(recorded.record, SaleDispatched)
        if self.sale is not None:
            return sale.sale == self.sale
        return self.covers(recorded.occurred_on) and any(
            self.scheme in {None, claim.scheme}
            for line in sale.lines
            for claim in line.claims
        )

    def __str__(self) -> str:
        return ", ".join(self._told())

    def _told(self) -> Iterator[str]:
        if self.scheme is not None:
            yield f"scheme {self.scheme}"
        if self.since is not None:
            yield f"from {self.since}"
        if self.until is not None:
            yield f"until {self.until}"
        if self.sale is not None:
            yield f"sale {self.sale}"
