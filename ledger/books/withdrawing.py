"""What taking a claim back does: the accounts get it back, the goods stay sold."""

from collections import Counter

from ledger.books.claimed import LineOut, claims_back, lines_out, withdraw
from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import expect, require
from ledger.books.shelf import Shelf
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.sale import ClaimWithdrawn, SaleDispatched


def effects_of_withdrawal(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what taking claims back does: what they drew comes back to the accounts.

    Raises:
        EntryRefusedError: The sale is unknown or later, or does not claim as much under
            the scheme any more.
    """
    withdrawn = expect(recorded.record, ClaimWithdrawn)
    subject = Subject(SubjectKind.SALE, withdrawn.sale)
    sold = require(shelf, subject, field="sale")
    sale = expect(sold.record, SaleDispatched)
    if recorded.occurred_on < sold.occurred_on:
        raise refuse(
            "withdrawal-before-sale",
            "sale",
            f"withdrawal {withdrawn.withdrawal} is of {recorded.occurred_on}, before "
            f"sale {withdrawn.sale} of {sold.occurred_on}; correct one of the dates",
        )
    lines = lines_out(shelf, sale, before=recorded.slot)
    _refuse_beyond_claimed(lines, withdrawn.sale, withdrawn)
    return Effects(
        introduces=(Subject(SubjectKind.WITHDRAWAL, withdrawn.withdrawal),),
        mentions=(
            subject,
            *sorted({Subject(SubjectKind.LOT, line.lot) for line in withdrawn.lines}),
        ),
        postings=tuple(
            posting
            for back in withdraw(lines, withdrawn)
            for posting in claims_back(shelf, sold, back, recorded.occurred_on)
        ),
    )


def _refuse_beyond_claimed(
    lines: list[LineOut], sale: str, withdrawn: ClaimWithdrawn
) -> None:
    wanted_g = Counter[tuple[str, str]]()
    for place, part in enumerate(withdrawn.lines):
        wanted_g[part.lot, part.scheme] += to_grams(part.mass_kg)
        left_g = sum(
            out.claimed_g.get(part.scheme, 0)
            for out in lines
            if out.line.lot == part.lot
        )
        if wanted_g[part.lot, part.scheme] > left_g:
            raise refuse(
                "more-withdrawn-than-claimed",
                f"lines.{place}",
                f"lines.{place} takes the claim under {part.scheme} back for "
                f"{show_kg(wanted_g[part.lot, part.scheme])} kg of lot {part.lot}, but "
                f"sale {sale} still claims {show_kg(left_g)} kg of it so; correct the "
                "mass or the scheme, or name the sale that made the claim",
            )
