"""Parting liquor into butter and powder, so that a claim on both does not draw twice.

A claim on butter uses liquor, and the powder that came with it is left over. It stays in
an account of its own, from which later claims on powder are taken first.

Such accounts count bean equivalent too. What the parted form stands for is shared out by
weight over what comes out of it, so nothing is gained or lost by parting it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from ledger.books.account import ALL, Account
from ledger.books.effect import Book, Cause, Posting, Recorded, Tally
from ledger.books.joint import joint_outputs_with
from ledger.books.lookup import governing_terms
from ledger.books.rounding import credited, drawn
from ledger.books.shelf import Shelf
from ledger.trade.balance_terms import JointOutputs
from ledger.trade.words import Commodity, Form


@dataclass(frozen=True, slots=True)
class PartedForm:
    """A form that comes out of another, as far as an entry needs it.

    Attributes:
        account: Account of what is left over of it.
        share: Its part of what comes out.
        wanted_g: Grams that the entry draws.
        found_g: Grams left over from earlier claims.
    """

    account: Account
    share: Fraction
    wanted_g: int
    found_g: int

    @property
    def needs_g(self) -> int:
        """Grams that must be parted so that there is enough of it; below 0 if none."""
        return drawn((self.wanted_g - max(0, self.found_g)) / self.share)


@dataclass(frozen=True, slots=True)
class Parting:
    """What an entry parts into other forms.

    Attributes:
        family: Account that it is taken from.
        rule: Row of the terms.
        forms: What comes out.
    """

    family: Account
    rule: JointOutputs
    forms: tuple[PartedForm, ...]

    @property
    def parted_g(self) -> int:
        """Grams that are parted: as many as the scarcest form needs."""
        return max(0, *(form.needs_g for form in self.forms))

    def postings(self, day: date) -> Iterator[Posting]:
        """Yield what it moves on a day."""
        yield Posting(self.family.tally, day, -self.parted_g, Cause.CONVERTED)
        for form in self.forms:
            grams = credited(self.parted_g * form.share)
            yield Posting(form.account.tally, day, grams, Cause.CONVERTED)


def parting_for(
    shelf: Shelf, recorded: Recorded, draws: Iterable[Posting]
) -> Iterator[Posting]:
    """Yield what an entry parts, as `partings` has it."""
    for parting in partings(shelf, recorded, draws):
        yield from parting.postings(recorded.occurred_on)


def partings(
    shelf: Shelf, recorded: Recorded, draws: Iterable[Posting]
) -> Iterator[Parting]:
    """Yield what must be parted so that an entry finds what it draws.

    What is left over from earlier claims is used first. Of the rest, as much is parted as
    the scarcest form needs; the other forms keep what they get.

    Args:
        shelf: What is recorded; the entry itself does not count on it.
        recorded: The entry.
        draws: What it moves by itself.

    Source: the liquor split of a published mass-balance guidance, from January 2018: one
    tonne of liquor stands for half a tonne of butter and half a tonne of powder.
    """
    day = recorded.occurred_on
    wanted_g: dict[Account, dict[str, int]] = {}
    for posting in draws:
        if posting.tally.book is Book.ACCOUNT:
            account = Account.of(posting.tally)
            if account.form != ALL:
                forms = wanted_g.setdefault(account.of_all_forms, {})
                forms[account.form] = forms.get(account.form, 0) - posting.grams
    for family, forms in sorted(wanted_g.items()):
        terms = governing_terms(shelf, family.scheme, day)
        commodity, form = Commodity(family.commodity), Form(min(forms))
        rule = (
            None if terms is None else joint_outputs_with(terms, commodity, form, day)
        )
        if rule is None:
            continue
        parting = Parting(
            family,
            rule,
            tuple(
                PartedForm(
                    account := replace(family, form=output.form),
                    Fraction(output.share),
                    forms.get(output.form, 0),
                    standing_before(shelf, account.tally, recorded),
                )
                for output in rule.outputs
            ),
        )
        if parting.parted_g:
            yield parting


def standing_before(shelf: Shelf, tally: Tally, recorded: Recorded) -> int:
    """Return what a running total stands at just before an entry, in grams.

    Movements of the same date count before it if they were recorded before it.
    """
    day = recorded.occurred_on
    run = shelf.run(tally, since=day, until=day)
    earlier = (m.grams for m in run.movements if m.slot < recorded.slot)
    return run.opening_g + sum(earlier)
