"""Received lots that counted under a scheme once and no longer do, and why.

A lot stops counting when it is rejected after it was taken, when its seller's certificate
is suspended or withdrawn from a day before it was traded, or when a correction moves the
dates of a certificate or of a bill of lading. A lot that was known not to count when it
was received is not among them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, require, terms_in_force
from ledger.books.receiving import counts, trade_date
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, lot_named, source_lots
from ledger.trade.contract import Claim
from ledger.trade.control import Correction
from ledger.trade.lot import LotRejected
from ledger.trade.party import (
    CertificateRecorded,
    CertificateSuspended,
    CertificateWithdrawn,
)
from ledger.trade.shipment import ShipmentDispatched


@dataclass(frozen=True, slots=True)
class Stopped:
    """A received lot that no longer counts under one scheme.

    Attributes:
        lot: The lot.
        claim: Claim under which it was bought.
        because: The entry that stopped it.
        sentence: Why, in words.
    """

    lot: SourceLot
    claim: Claim
    because: Recorded
    sentence: str


def stopped_lots(shelf: Shelf) -> tuple[Stopped, ...]:
    """Return every received lot that no longer counts, scheme by scheme, by lot number.

    Of several reasons the one recorded first is given.
    """
    found: dict[tuple[str, str], Stopped] = {}
    for stopped in sorted(_all_reasons(shelf), key=lambda one: one.because.seq):
        found.setdefault((stopped.lot.lot, stopped.claim.scheme), stopped)
    return tuple(found[key] for key in sorted(found))


def corrected_record(shelf: Shelf, correction: Recorded) -> Recorded | None:
    """Return what counts in the place of the entry that a correction names, if any does.

    Args:
        shelf: What is recorded.
        correction: A correction that counts.
    """
    slot = expect(correction.record, Correction).target
    found = shelf.at(slot)
    while found is not None and isinstance(found.record, Correction):
        if found.slot != found.seq:
            return None
        slot = found.record.target
        found = shelf.at(slot)
    return found


def _all_reasons(shelf: Shelf) -> Iterator[Stopped]:
    for recorded in shelf.of_kind("lot.rejected"):
        yield from _rejected(shelf, recorded)
    for kind in ("certificate.suspended", "certificate.withdrawn"):
        for recorded in shelf.of_kind(kind):
            yield from _uncertified(shelf, recorded)
    for recorded in shelf.of_kind("correction"):
        corrected = corrected_record(shelf, recorded)
        if corrected is not None and corrected.seq >= recorded.seq:
            yield from _redated(shelf, recorded, corrected)
    for recorded in shelf.of_kind("shipment.dispatched"):
        yield from _redated(shelf, recorded, recorded)


def _rejected(shelf: Shelf, recorded: Recorded) -> Iterator[Stopped]:
    rejected = expect(recorded.record, LotRejected)
    lot = lot_named(shelf, rejected.lot, field="lot")
    if isinstance(lot, SourceLot):
        sentence = f"rejected from {rejected.from_on} on: {rejected.reason}"
        for claim in lot.claims:
            if counts(shelf, lot, claim):
                yield Stopped(lot, claim, recorded, sentence)


def _uncertified(shelf: Shelf, recorded: Recorded) -> Iterator[Stopped]:
    event = recorded.record
    if not isinstance(event, CertificateSuspended | CertificateWithdrawn):
        raise TypeError(recorded.kind)
    subject = Subject(SubjectKind.CERTIFICATE, event.certificate)
    found = require(shelf, subject, field="certificate")
    certificate = expect(found.record, CertificateRecorded)
    how = recorded.kind.removeprefix("certificate.")
    for lot, claim in _uncounted_of(shelf, certificate, recorded):
        traded_on = _traded_on(shelf, lot, claim)
        if (
            event.from_on <= traded_on
            and certificate.valid_from <= traded_on <= certificate.valid_until
        ):
            yield Stopped(
                lot,
                claim,
                recorded,
                f"certificate {event.certificate} of {certificate.holder} {how} from "
                f"{event.from_on} on: {event.reason}",
            )


def _redated(shelf: Shelf, because: Recorded, counting: Recorded) -> Iterator[Stopped]:
    """Yield lots that the dates of a certificate or bill of lading leave uncovered."""
    record = counting.record
    if isinstance(record, CertificateRecorded):
        for lot, claim in _uncounted_of(shelf, record, because):
            yield Stopped(
                lot,
                claim,
                because,
                f"certificate {record.certificate} of {record.holder} was corrected: it "
                f"is valid from {record.valid_from} to {record.valid_until}, and the "
                f"lot was traded on {_traded_on(shelf, lot, claim)}",
            )
    elif isinstance(record, ShipmentDispatched):
        subject = Subject(SubjectKind.SHIPMENT, record.shipment)
        for receipt in shelf.about(subject, "shipment.received"):
            for lot, claim in _uncounted_in(shelf, receipt, because):
                yield Stopped(
                    lot,
                    claim,
                    because,
                    f"the bill of lading of shipment {record.shipment} is of "
                    f"{counting.occurred_on}, when {lot.supplier} had no certificate "
                    f"that counted under {claim.scheme}",
                )


def _uncounted_of(
    shelf: Shelf, certificate: CertificateRecorded, because: Recorded
) -> Iterator[tuple[SourceLot, Claim]]:
    holder = Subject(SubjectKind.PARTY, certificate.holder)
    for receipt in shelf.about(holder, "shipment.received"):
        for lot, claim in _uncounted_in(shelf, receipt, because):
            if claim.scheme == certificate.scheme and _is_in_scope(
                certificate, lot, claim
            ):
                yield lot, claim


def _is_in_scope(
    certificate: CertificateRecorded, lot: SourceLot, claim: Claim
) -> bool:
    return (
        lot.commodity in certificate.commodities
        and claim.custody in certificate.custody
        and (certificate.organic or not lot.organic)
    )


def _uncounted_in(
    shelf: Shelf, receipt: Recorded, because: Recorded
) -> Iterator[tuple[SourceLot, Claim]]:
    """Yield lots of a receipt that do not count, if it was recorded before an entry."""
    if receipt.slot > because.seq:
        return
    for lot in source_lots(shelf, receipt):
        for claim in lot.claims:
            if lot.part.decision == "accepted" and not counts(shelf, lot, claim):
                yield lot, claim


def _traded_on(shelf: Shelf, lot: SourceLot, claim: Claim) -> date:
    terms = terms_in_force(shelf, claim.scheme, lot.receipt.occurred_on, field="terms")
    return trade_date(shelf, lot, terms.certificate_governed_by)
