"""Comparing what a batch lost with the norms of the schemes the maker works under."""

from collections.abc import Iterator
from fractions import Fraction

from ledger.books.effect import Recorded
from ledger.books.finding import Finding, warning
from ledger.books.lookup import expect, governing_terms
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.terms import TermsPublished


def warnings_of_loss(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield every norm that a batch lost more than, under the terms of its day."""
    batch = expect(recorded.record, BatchMade)
    taken = sum(to_grams(part.mass_kg) for part in batch.inputs)
    lost = Fraction(sum(to_grams(part.mass_kg) for part in batch.losses), taken) * 100
    schemes = {
        expect(found.record, TermsPublished).scheme
        for found in shelf.of_kind("terms.published")
    }
    for scheme in sorted(schemes):
        terms = governing_terms(shelf, scheme, recorded.occurred_on)
        for norm in () if terms is None else terms.loss_norms:
            if norm.step is batch.step and lost > Fraction(norm.most_percent):
                yield warning(
                    "loss-above-norm",
                    "losses",
                    f"losses of batch {batch.batch} are {shown(lost)} per cent of what "
                    f"went in, but {scheme} expects at most "
                    f"{shown(Fraction(norm.most_percent))} per "
                    f"cent at {norm.step} ({norm.source}); weigh again, or note why it "
                    "is right",
                )
