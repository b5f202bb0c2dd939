"""Parting liquor into butter and powder, so that a claim on both does not draw twice.

A claim on butter uses liquor, and the powder that came with it is left over. It stays in
an account of its own, from which later claims on powder are taken first.

Such accounts count bean equivalent too. What the parted form stands for is shared out by
weight over what comes out of it, so nothing is gained or lost by parting it.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from ledger.books.account import ALL, Account
from ledger.books.effect import Book, Cause, Posting, Recorded, Tally
from ledger.books.joint import joint_outputs_with
from ledger.books.lookup import governing_terms
from ledger.books.rounding import credited, drawn
from ledger.books.shelf import Shelf
from ledger.trade.balance_terms import JointOutputs
from ledger.trade.words import Commodity, Form


def parting_for(
    shelf: Shelf, recorded: Recorded, draws: Iterable[Posting]
) -> Iterator[Posting]:
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
        if rule is not None:
            yield from _parted(shelf, recorded, family, forms, rule)


def _parted(
    shelf: Shelf,
    recorded: Recorded,
    family: Account,
    wanted_g: Mapping[str, int],
    rule: JointOutputs,
) -> Iterator[Posting]:
    day = recorded.occurred_on
    parted_g = 0
    for output in rule.outputs:
        account = replace(family, form=output.form)
        found_g = standing_before(shelf, account.tally, recorded)
        missing_g = wanted_g.get(output.form, 0) - max(0, found_g)
        parted_g = max(parted_g, drawn(missing_g / Fraction(output.share)))
    if parted_g <= 0:
        return
    yield Posting(family.tally, day, -parted_g, Cause.CONVERTED)
    for output in rule.outputs:
        account = replace(family, form=output.form)
        grams = credited(parted_g * Fraction(output.share))
        yield Posting(account.tally, day, grams, Cause.CONVERTED)


def standing_before(shelf: Shelf, tally: Tally, recorded: Recorded) -> int:
    """Return what a running total stands at just before an entry, in grams.

    Movements of the same date count before it if they were recorded before it.
    """
    day = recorded.occurred_on
    run = shelf.run(tally, since=day, until=day)
    earlier = (m.grams for m in run.movements if m.slot < recorded.slot)
    return run.opening_g + sum(earlier)
