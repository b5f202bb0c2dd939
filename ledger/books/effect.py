"""What one entry does to the books: names it brings in, masses it moves, lots it joins.

An entry is judged once into `Effects`; shelves store effects, and everything that the
books report is added up from them. Masses are whole grams with a sign: positive adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # A question about masses is answered without loading the models of the trade.
    from ledger.trade.record import Record


class SubjectKind(StrEnum):
    """Sorts of things that entries name."""

    ORGANISATION = "organisation"
    SITE = "site"
    PARTY = "party"
    CERTIFICATE = "certificate"
    SCHEME = "scheme"
    TERMS = "terms"
    LIMITS = "limits"
    RECIPE = "recipe"
    MARKET = "market"
    QUOTE = "quote"
    RATE = "rate"
    CONTRACT = "contract"
    FIXATION = "fixation"
    SHIPMENT = "shipment"
    ARRIVAL = "arrival"
    REQUEST = "request"
    PAYMENT = "payment"
    BATCH = "batch"
    YIELD = "yield"
    LOT = "lot"
    HOLD = "hold"
    SALE = "sale"
    RETURN = "return"
    WITHDRAWAL = "withdrawal"
    TRANSFER = "transfer"
    SHORTFALL = "shortfall"
    MADE_GOOD = "made good"
    PERIOD = "period"
    DOCUMENT = "document"
    KEY = "key"
    PERSON = "person"
    FINDING = "finding"


@dataclass(frozen=True, slots=True, order=True)
class Subject:
    """One thing that entries name, such as the lot L-7."""

    kind: SubjectKind
    name: str

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"


class Book(StrEnum):
    """The books in which masses are added up.

    Input and output are all that came in and all that was sold, certified or not, by the
    account it would be counted in; they are kept where terms average percentages.
    """

    STOCK = "stock"
    ACCOUNT = "account"
    INPUT = "input"
    OUTPUT = "output"


@dataclass(frozen=True, slots=True, order=True)
class Tally:
    """One running total: the stock of a lot, a mass-balance account, or throughput."""

    book: Book
    key: str

    @classmethod
    def stock(cls, lot: str) -> Tally:
        """Return the running total of what is left of a lot."""
        return cls(Book.STOCK, lot)


class Cause(StrEnum):
    """Why a mass moved."""

    RECEIVED = "received"
    MADE = "made"
    USED = "used"
    SOLD = "sold"
    RETURNED = "returned"
    WRITTEN_OFF = "written off"
    CONVERTED = "converted"
    TRANSFERRED = "transferred"
    LAPSED = "lapsed"
    CORRECTED = "corrected"


@dataclass(frozen=True, slots=True)
class Posting:
    """A mass that one entry moves in one running total on one date."""

    tally: Tally
    day: date
    grams: int
    cause: Cause


@dataclass(frozen=True, slots=True)
class Edge:
    """Mass of one lot that went into another."""

    source: str
    target: str
    grams: int


@dataclass(frozen=True, slots=True)
class Effects:
    """Everything one entry does to the books."""

    introduces: tuple[Subject, ...] = ()
    mentions: tuple[Subject, ...] = ()
    postings: tuple[Posting, ...] = ()
    edges: tuple[Edge, ...] = ()


@dataclass(frozen=True, slots=True)
class Recorded:
    """One entry that counts, opened: hidden values are simply absent.

    Attributes:
        seq: Sequence number of the entry that wrote it.
        slot: Place it takes in the order of entries: `seq`, or the sequence number of
            the entry that it replaces.
        occurred_on: When it happened in the trade.
        recorded_at: When it was written.
        recorded_by: Who wrote it.
        record: What was recorded.
    """

    seq: int
    slot: int
    occurred_on: date
    recorded_at: datetime
    recorded_by: str
    record: Record

    @property
    def kind(self) -> str:
        """Kind of the entry."""
        return self.record.kind
