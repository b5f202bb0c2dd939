"""How far a count may lie from the book before it is called a difference."""

from ledger.trade.quantity import Percent
from ledger.trade.record import Record, Text
from ledger.trade.words import Form


class CountTolerance(Record):
    """What is usual between a count and the book, for some forms."""

    forms: tuple[Form, ...] = ()
    """Forms it is for; none given means all others."""
    percent: Percent
    """Per cent of the book's mass by which a count may differ either way."""
    source: Text
    """Where the limit comes from."""
