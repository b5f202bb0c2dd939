"""What a receipt does: stock as landed, and credits where the claim holds."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.account_rule import account_under, refuse_unlisted_grade
from ledger.books.certificate import is_certified
from ledger.books.conversion import factor_to_beans
from ledger.books.effect import (
    Book,
    Cause,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import Finding, warning
from ledger.books.lookup import (
    contract_named,
    require,
    site_named,
    terms_in_force,
)
from ledger.books.rejecting import rejection_of
from ledger.books.rolling import rolling_terms, throughput
from ledger.books.rounding import credited
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, source_lots
from ledger.trade.balance_terms import AccountRule
from ledger.trade.contract import Claim
from ledger.trade.grams import to_grams
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Governing


def effects_of_receipt(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a receipt does to the books.

    Raises:
        EntryRefusedError: It names something that is not recorded.
    """
    record = recorded.record
    if not isinstance(record, ShipmentReceived):
        raise TypeError(recorded.kind)
    site = site_named(shelf, record.site, field="site")
    lots = tuple(source_lots(shelf, recorded))
    mentions = [Subject(SubjectKind.PARTY, lot.supplier) for lot in lots]
    mentions += [
        Subject(SubjectKind.SCHEME, claim.scheme)
        for lot in lots
        for claim in lot.claims
    ]
    mentions += [
        Subject(SubjectKind.SCHEME, terms.scheme)
        for terms in rolling_terms(shelf, recorded.occurred_on)
    ]
    if record.contract is not None:
        mentions.append(Subject(SubjectKind.CONTRACT, record.contract))
    if record.supplier is not None:
        require(shelf, Subject(SubjectKind.PARTY, record.supplier), field="supplier")
    postings = []
    for lot in lots:
        if lot.part.decision == "accepted":
            postings.append(
                Posting(
                    Tally.stock(lot.lot),
                    recorded.occurred_on,
                    to_grams(lot.part.net_landed_kg),
                    Cause.RECEIVED,
                )
            )
            postings += [posting for _, posting in credits_of(shelf, lot, site)]
            postings += [posting for _, posting in inputs_of(shelf, lot, site)]
    return Effects(
        introduces=(
            Subject(SubjectKind.ARRIVAL, record.shipment),
            *(Subject(SubjectKind.LOT, lot.lot) for lot in lots),
        ),
        mentions=(*mentions, Subject(SubjectKind.SHIPMENT, record.shipment)),
        postings=tuple(postings),
    )


def credits_of(
    shelf: Shelf, lot: SourceLot, site: str
) -> Iterator[tuple[Claim, Posting]]:
    """Yield what an accepted lot adds to accounts, by claim.

    What a lot that was rejected after it was taken had added is taken off again from the
    day on which the rejection holds.

    Raises:
        EntryRefusedError: A factor is missing, or the terms do not list its grade.
    """
    day = lot.receipt.occurred_on
    for claim in lot.claims:
        if not counts(shelf, lot, claim):
            continue
        terms = terms_in_force(shelf, claim.scheme, day, field="contract")
        refuse_unlisted_grade(terms, lot.grade, field="lots", what=f"lot {lot.lot}")
        tally = account_of(terms, lot, site).tally
        grams = credited(claim.part * _counted_g(shelf, terms, lot))
        rejected = rejection_of(shelf, lot.lot)
        if rejected is None or rejected.from_on > day:
            yield claim, Posting(tally, day, grams, Cause.RECEIVED)
        if rejected is not None and rejected.from_on > day:
            yield claim, Posting(tally, rejected.from_on, -grams, Cause.WRITTEN_OFF)


def inputs_of(
    shelf: Shelf, lot: SourceLot, site: str
) -> Iterator[tuple[TermsPublished, Posting]]:
    """Yield what a lot adds to all that came in, where terms average percentages."""
    day = lot.receipt.occurred_on
    for terms in rolling_terms(shelf, day):
        if lot.commodity in terms.commodities:
            grams = credited(_counted_g(shelf, terms, lot))
            account = account_of(terms, lot, site)
            yield terms, throughput(Book.INPUT, account, day, grams, Cause.RECEIVED)


def _counted_g(shelf: Shelf, terms: TermsPublished, lot: SourceLot) -> Fraction:
    """Return what a lot stands for in bean equivalent, exact."""
    day = lot.receipt.occurred_on
    factor = factor_to_beans(shelf, terms, lot.commodity, lot.form, day, field="lots")
    return factor * credited_weight_g(terms.account, lot)


def counts(shelf: Shelf, lot: SourceLot, claim: Claim) -> bool:
    """Tell whether a lot bought under a claim really carries it.

    It does where the maker accepted the lot, the scheme certifies the commodity, and the
    seller's certificate counted on the date that the terms name.
    """
    if lot.part.decision != "accepted":
        return False
    day = lot.receipt.occurred_on
    terms = terms_in_force(shelf, claim.scheme, day, field="contract")
    return lot.commodity in terms.commodities and is_certified(
        shelf,
        Subject(SubjectKind.PARTY, lot.supplier),
        claim.scheme,
        trade_date(shelf, lot, terms.certificate_governed_by),
        commodity=lot.commodity,
        custody=claim.custody,
        organic=lot.organic,
    )


def trade_date(shelf: Shelf, lot: SourceLot, governing: Governing) -> date:
    """Return the date of a receipt that a dated rule asks for.

    A shipment's date is its bill of lading's, recorded with `shipment.dispatched`; where
    that is not recorded, and for fixation, which a whole receipt does not have, the day
    of delivery stands in.
    """
    if lot.contract is not None and governing is Governing.CONTRACT:
        contract = Subject(SubjectKind.CONTRACT, lot.contract)
        return require(shelf, contract, field="contract").occurred_on
    if governing is Governing.SHIPMENT:
        dispatched = shelf.introducer(Subject(SubjectKind.SHIPMENT, lot.shipment))
        if dispatched is not None:
            return dispatched.occurred_on
    return lot.receipt.occurred_on


def account_of(terms: TermsPublished, lot: SourceLot, site: str) -> Account:
    """Return the account that a received lot belongs to, if it is certified."""
    return account_under(
        terms,
        lot.receipt.occurred_on,
        commodity=lot.commodity,
        form=lot.form,
        site=site,
        organic=lot.organic,
        origin=lot.origin,
        grade=lot.grade,
    )


def credited_weight_g(rule: AccountRule, lot: SourceLot) -> Fraction:
    """Return the grams of a lot that are credited.

    The lesser of shipped and landed weight unless the terms name one of them.
    """
    shipped = to_grams(lot.part.net_shipped_kg)
    landed = to_grams(lot.part.net_landed_kg)
    by_rule = {"lesser": min(shipped, landed), "shipped": shipped, "landed": landed}
    return Fraction(by_rule[rule.credit_weight])


def effects_of_dispatch(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a shipment leaving its seller does to the books: it is known.

    Raises:
        EntryRefusedError: Its contract is not recorded.
    """
    record = recorded.record
    if not isinstance(record, ShipmentDispatched):
        raise TypeError(recorded.kind)
    contract = contract_named(shelf, record.contract, field="contract")
    return Effects(
        introduces=(Subject(SubjectKind.SHIPMENT, record.shipment),),
        mentions=(
            Subject(SubjectKind.CONTRACT, record.contract),
            Subject(SubjectKind.PARTY, contract.seller),
        ),
    )


def warnings_of_receipt(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield what a reader of a receipt should know: claims that do not count."""
    for lot in source_lots(shelf, recorded):
        if lot.part.decision == "rejected":
            continue
        for claim in lot.claims:
            if not counts(shelf, lot, claim):
                yield warning(
                    "receipt-not-counted",
                    "lots",
                    f"lot {lot.lot} is stocked but does not count under {claim.scheme}: "
                    f"{lot.supplier} had no certificate under {claim.scheme} covering "
                    f"{lot.commodity} that counted on the governing date; record the "
                    "certificate with certificate.recorded if there is one",
                )
