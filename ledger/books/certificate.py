"""Whether a certificate counted on a date."""

from datetime import date

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.trade.party import (
    CertificateRecorded,
    CertificateReinstated,
    CertificateSuspended,
    CertificateWithdrawn,
)
from ledger.trade.words import Commodity, Custody


def is_certified(
    shelf: Shelf,
    holder: Subject,
    scheme: str,
    on: date,
    *,
    commodity: Commodity | None = None,
    custody: Custody | None = None,
    organic: bool = False,
) -> bool:
    """Tell whether a holder had a certificate that counted on a date.

    The arguments are those of `certificate_on`.
    """
    found = certificate_on(
        shelf,
        holder,
        scheme,
        on,
        commodity=commodity,
        custody=custody,
        organic=organic,
    )
    return found is not None


def certificate_on(
    shelf: Shelf,
    holder: Subject,
    scheme: str,
    on: date,
    *,
    commodity: Commodity | None = None,
    custody: Custody | None = None,
    organic: bool = False,
) -> Recorded | None:
    """Return the first recorded certificate of a holder that counted on a date.

    Args:
        shelf: What is recorded.
        holder: A party, or the maker's organisation.
        scheme: Scheme the certificate must be under.
        on: Trade date.
        commodity: What its scope must cover, if anything.
        custody: Custody model its scope must cover, if any.
        organic: Whether its scope must cover organic production.
    """
    for found in shelf.about(holder, "certificate.recorded"):
        certificate = expect(found.record, CertificateRecorded)
        if (
            certificate.scheme == scheme
            and certificate.valid_from <= on <= certificate.valid_until
            and stopped_on(shelf, certificate.certificate, on) is None
            and (commodity is None or commodity in certificate.commodities)
            and (custody is None or custody in certificate.custody)
            and (certificate.organic or not organic)
        ):
            return found
    return None


def stopped_on(
    shelf: Shelf, certificate: str, on: date
) -> CertificateSuspended | CertificateWithdrawn | None:
    """Return the suspension or withdrawal that stops a certificate on a date, if one does.

    Events count by the day they take effect; of two on one day, the one recorded last. A
    withdrawal is for good.
    """
    subject = Subject(SubjectKind.CERTIFICATE, certificate)
    events = [
        (found.record.from_on, found.slot, found.record)
        for found in shelf.about(subject)
        if isinstance(
            found.record,
            CertificateSuspended | CertificateWithdrawn | CertificateReinstated,
        )
        and found.record.from_on <= on
    ]
    for _, _, record in events:
        if isinstance(record, CertificateWithdrawn):
            return record
    if not events:
        return None
    _, _, latest = max(events, key=lambda event: event[:2])
    return latest if isinstance(latest, CertificateSuspended) else None
