"""Why a receipt added to an account what it did, line by line.

The lines do not say credit: terms may average percentages instead.
"""

from collections.abc import Iterator

from ledger.books.certificate import certificate_on
from ledger.books.effect import Cause, Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, site_named, terms_in_force
from ledger.books.paid_weight import kg
from ledger.books.receiving import counts, credited_weight_g, credits_of, trade_date
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, source_lots
from ledger.books.why_claim import Reached
from ledger.books.why_factor import factor_of, factor_workings, terms_entry, terms_rule
from ledger.books.working import CREDITED, Working
from ledger.trade.contract import Claim
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.terms import TermsPublished

_WEIGHTS = {
    "lesser": "the lesser of shipped and landed weight counts",
    "shipped": "shipped weight counts",
    "landed": "landed weight counts",
}


def receipts_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a receipt added to accounts, and what rejections took off again."""
    record = expect(recorded.record, ShipmentReceived)
    site = site_named(shelf, record.site, field="site")
    taken = (
        lot for lot in source_lots(shelf, recorded) if lot.part.decision == "accepted"
    )
    for lot in taken:
        for claim, posting in credits_of(shelf, lot, site):
            grams = abs(posting.grams)
            workings = tuple(_addition(shelf, lot, claim, grams))
            if posting.cause is Cause.WRITTEN_OFF:
                workings += (_rejection(shelf, lot, grams),)
            yield Reached(posting, workings)


def _addition(
    shelf: Shelf, lot: SourceLot, claim: Claim, added_g: int
) -> Iterator[Working]:
    """Yield how what one lot adds under one claim was reached."""
    day = lot.receipt.occurred_on
    terms = terms_in_force(shelf, claim.scheme, day, field="contract")
    yield from _certificate(shelf, lot, claim, terms)
    yield from weight_workings(shelf, lot, terms)
    yield from factor_workings(shelf, terms, lot.commodity, lot.form, day)
    factor = factor_of(shelf, terms, lot.commodity, lot.form, day)
    weight = kg(credited_weight_g(terms.account, lot))
    known = "" if claim.proportion is None else f" * {shown(claim.part)}"
    if known:
        yield Working(
            "known part of the blend that carries the claim",
            shown(claim.part),
            f"contract {lot.contract}",
        )
    yield Working(
        f"added for lot {lot.lot}",
        f"{show_kg(added_g)} kg",
        CREDITED,
        reckoning=f"{weight} * {factor}{known}",
    )


def _certificate(
    shelf: Shelf, lot: SourceLot, claim: Claim, terms: TermsPublished
) -> Iterator[Working]:
    governing = terms.certificate_governed_by
    on = trade_date(shelf, lot, governing)
    found = certificate_on(
        shelf,
        Subject(SubjectKind.PARTY, lot.supplier),
        claim.scheme,
        on,
        commodity=lot.commodity,
        custody=claim.custody,
        organic=lot.organic,
    )
    yield Working(
        f"the claim {claim.scheme}, {claim.custody} counts: {lot.supplier} had a "
        f"certificate on {on} ({governing} date)",
        "counts" if counts(shelf, lot, claim) else "does not count",
        terms_rule(terms, f"certificate on the {governing} date"),
        None if found is None else found.seq,
    )


def weight_workings(
    shelf: Shelf, lot: SourceLot, terms: TermsPublished
) -> Iterator[Working]:
    """Yield how the weight of a lot that counts was reached; the last line is it."""
    entry = lot.receipt.seq
    shipped = kg(to_grams(lot.part.net_shipped_kg))
    landed = kg(to_grams(lot.part.net_landed_kg))
    yield Working(f"lot {lot.lot}, net shipped", f"{shipped} kg", "", entry)
    yield Working(f"lot {lot.lot}, net landed", f"{landed} kg", "", entry)
    rule = terms.account.credit_weight
    both = f"lowest of ({shipped}, {landed})"
    yield Working(
        "weight that counts",
        f"{kg(credited_weight_g(terms.account, lot))} kg",
        terms_rule(terms, _WEIGHTS[rule]),
        terms_entry(shelf, terms),
        reckoning={"lesser": both, "shipped": shipped, "landed": landed}[rule],
    )


def _rejection(shelf: Shelf, lot: SourceLot, added_g: int) -> Working:
    """Return the line that takes it off again when a lot is rejected."""
    found = shelf.about(Subject(SubjectKind.LOT, lot.lot), "lot.rejected")
    return Working(
        f"taken off again for lot {lot.lot}, which was rejected",
        f"{show_kg(added_g)} kg",
        "a rejected lot no longer counts",
        found[0].seq if found else None,
        reckoning=show_kg(added_g),
    )
