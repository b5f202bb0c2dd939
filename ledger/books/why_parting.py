"""Why an account was parted into forms that come out together, line by line."""

from collections.abc import Iterator

from ledger.books.effect import Book, Cause, Posting, Recorded
from ledger.books.lookup import governing_terms
from ledger.books.paid_weight import kg
from ledger.books.parting import Parting, partings
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached
from ledger.books.why_factor import terms_rule
from ledger.books.working import CREDITED, DRAWN, Working
from ledger.trade.grams import show_kg


def partings_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what an entry parted so that it found what it drew."""
    day = recorded.occurred_on
    draws = (
        posting
        for posting in shelf.effects(recorded.slot).postings
        if posting.tally.book is Book.ACCOUNT and posting.cause in _DRAWING
    )
    for parting in partings(shelf, recorded, draws):
        taken, *given = parting.postings(day)
        workings = tuple(_needs(shelf, recorded, parting))
        yield Reached(taken, workings)
        yield from (
            Reached(posting, (*workings, _share(parting, posting))) for posting in given
        )


_DRAWING = frozenset({Cause.SOLD, Cause.WRITTEN_OFF})


def _needs(shelf: Shelf, recorded: Recorded, parting: Parting) -> Iterator[Working]:
    needs = []
    for form in parting.forms:
        name = form.account.form
        wanted, found = kg(form.wanted_g), kg(max(0, form.found_g))
        if form.wanted_g:
            yield Working(
                f"{name} drawn by this entry", f"{wanted} kg", "", recorded.seq
            )
        yield Working(f"{name} left over from earlier claims", f"{found} kg")
        yield Working(f"part of it that is {name}", shown(form.share))
        needs.append(f"({wanted} - {found}) / {shown(form.share)}")
    terms = governing_terms(shelf, parting.family.scheme, recorded.occurred_on)
    source = parting.rule.source
    yield Working(
        f"{parting.rule.of} parted: as much as the scarcest form needs",
        f"{show_kg(parting.parted_g)} kg",
        f"{source if terms is None else terms_rule(terms, source)}; {DRAWN}",
        reckoning=f"highest of ({', '.join(needs)})",
    )


def _share(parting: Parting, posting: Posting) -> Working:
    form = next(f for f in parting.forms if f.account.tally == posting.tally)
    return Working(
        f"{form.account.form} that comes out",
        f"{show_kg(posting.grams)} kg",
        CREDITED,
        reckoning=f"{kg(parting.parted_g)} * {shown(form.share)}",
    )
