"""How long records must be kept: as long as the strictest terms in force ask.

A scheme counts years from when a record was made (7 CFR 205.103(b)(3) keeps records of
organic goods for not less than five years beyond their creation). Law on food, trade and
tax may ask for more; this says what the schemes ask, no less.
"""

from dataclasses import dataclass
from datetime import date

from ledger.books.effect import Recorded
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.trade.terms import TermsPublished


@dataclass(frozen=True, slots=True)
class Retention:
    """How long a record must be kept.

    Attributes:
        years: Years from when it was made.
        until: Last day on which it must be there.
        scheme: Scheme whose terms ask for it.
    """

    years: int
    until: date
    scheme: str


def retention_of(shelf: Shelf, recorded: Recorded) -> Retention | None:
    """Return how long an entry must be kept; None where no terms were in force.

    Of the terms in force when it was recorded, those that ask for most years count.
    """
    made_on = recorded.recorded_at.date()
    asked = [
        (terms.retention_years, scheme)
        for scheme in _schemes(shelf)
        if (terms := governing_terms(shelf, scheme, made_on)) is not None
    ]
    if not asked:
        return None
    years, scheme = max(asked, key=lambda one: one[0])
    return Retention(years, years_later(made_on, years), scheme)


def _schemes(shelf: Shelf) -> list[str]:
    return sorted(
        {
            expect(found.record, TermsPublished).scheme
            for found in shelf.of_kind("terms.published")
        }
    )


def years_later(day: date, years: int) -> date:
    """Return the same day some years later; 29 February becomes 1 March where needed."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
