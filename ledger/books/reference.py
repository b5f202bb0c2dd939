"""What reference entries do: they bring in names that other entries use."""

from datetime import date

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import (
    expect,
    opening,
    require,
)
from ledger.books.market import quote_subject, rate_subject
from ledger.books.shelf import Shelf
from ledger.books.signing import key_introduced
from ledger.trade.control import DisclosureErased, DocumentAttached
from ledger.trade.market import QuoteRecorded, RateRecorded
from ledger.trade.opening import LedgerOpened
from ledger.trade.party import (
    CertificateRecorded,
    CertificateReinstated,
    CertificateSuspended,
    CertificateWithdrawn,
    PartyRegistered,
)
from ledger.trade.recipe import RecipePublished
from ledger.trade.terms import LimitsPublished, TermsPublished


def effects_of_opening(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what opening does: it brings in the maker, its sites and its key.

    Raises:
        EntryRefusedError: The ledger is open already.
    """
    opened = expect(recorded.record, LedgerOpened)
    if recorded.slot != 0 or shelf.at(0) is not None:
        raise refuse(
            "already-open",
            "",
            "the ledger is open already; a ledger has one opening entry, so open "
            "another ledger in another file",
        )
    return Effects(
        introduces=(
            Subject(SubjectKind.ORGANISATION, opened.organisation),
            *(Subject(SubjectKind.SITE, site.site) for site in opened.sites),
            *key_introduced(opened.public_key),
        )
    )


def effects_of_party(_shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what registering a party does: it can be named."""
    party = expect(recorded.record, PartyRegistered)
    return Effects(introduces=(Subject(SubjectKind.PARTY, party.party),))


def effects_of_certificate(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what recording a certificate does: its holder has it.

    Raises:
        EntryRefusedError: The holder is neither a party nor the maker, or the dates run
            backwards.
    """
    certificate = expect(recorded.record, CertificateRecorded)
    if certificate.valid_until < certificate.valid_from:
        raise refuse(
            "dates-backwards",
            "valid_until",
            f"valid_until is {certificate.valid_until}, before valid_from "
            f"{certificate.valid_from}; correct one of the dates",
        )
    return Effects(
        introduces=(Subject(SubjectKind.CERTIFICATE, certificate.certificate),),
        mentions=(
            holder_named(shelf, certificate.holder, field="holder"),
            Subject(SubjectKind.SCHEME, certificate.scheme),
        ),
    )


def holder_named(shelf: Shelf, holder: str, *, field: str) -> Subject:
    """Return who holds a certificate: the maker's organisation, or a party.

    Raises:
        EntryRefusedError: It is neither.
    """
    if holder == opening(shelf).organisation:
        return Subject(SubjectKind.ORGANISATION, holder)
    party = Subject(SubjectKind.PARTY, holder)
    require(shelf, party, field=field)
    return party


def effects_of_certificate_event(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a suspension, withdrawal or reinstatement does to its certificate.

    Raises:
        EntryRefusedError: The certificate is not recorded.
    """
    event = recorded.record
    if not isinstance(
        event, CertificateSuspended | CertificateWithdrawn | CertificateReinstated
    ):
        raise TypeError(recorded.kind)
    subject = Subject(SubjectKind.CERTIFICATE, event.certificate)
    found = require(shelf, subject, field="certificate")
    certificate = expect(found.record, CertificateRecorded)
    holder = holder_named(shelf, certificate.holder, field="certificate")
    return Effects(mentions=(subject, holder))


def effects_of_terms(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what publishing terms does: they govern from their date on.

    Raises:
        EntryRefusedError: Other terms of the scheme govern from the same date, or
            something was already counted under the scheme on a date that these new terms
            would govern.
    """
    terms = expect(recorded.record, TermsPublished)
    scheme = Subject(SubjectKind.SCHEME, terms.scheme)
    for other in shelf.about(scheme, "terms.published"):
        if expect(other.record, TermsPublished).valid_from == terms.valid_from:
            raise refuse(
                "terms-govern-already",
                "valid_from",
                f"valid_from is {terms.valid_from}, from which entry {other.seq} already "
                f"governs {terms.scheme}; correct that entry, or use another date",
            )
    if recorded.seq == recorded.slot:
        _refuse_backdated(shelf, scheme, terms)
    return Effects(
        introduces=(Subject(SubjectKind.TERMS, f"{terms.scheme}@{terms.version}"),),
        mentions=(scheme,),
    )


def _refuse_backdated(shelf: Shelf, scheme: Subject, terms: TermsPublished) -> None:
    """Refuse new terms for dates that were counted; a correction counts them again."""
    for kind in ("shipment.received", "sale.dispatched", "lot.written_off"):
        for found in shelf.about(scheme, kind):
            if found.occurred_on >= terms.valid_from:
                raise refuse(
                    "terms-backdated",
                    "valid_from",
                    f"valid_from is {terms.valid_from}, but entry {found.seq} of "
                    f"{found.occurred_on} was already counted under older terms of "
                    f"{terms.scheme}; correct the terms entry that was wrong, or let "
                    "these govern from a later date",
                )


def effects_of_limits(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what publishing limits does: batches are compared with them.

    Raises:
        EntryRefusedError: Other limits govern from the same date.
    """
    limits = expect(recorded.record, LimitsPublished)
    for other in shelf.of_kind("limits.published"):
        if expect(other.record, LimitsPublished).valid_from == limits.valid_from:
            raise refuse(
                "limits-govern-already",
                "valid_from",
                f"valid_from is {limits.valid_from}, from which entry {other.seq} already "
                "governs; correct that entry, or use another date",
            )
    return Effects(introduces=(Subject(SubjectKind.LIMITS, limits.version),))


def effects_of_recipe(_shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what publishing a recipe does: batches may be made to it."""
    recipe = expect(recorded.record, RecipePublished)
    return Effects(introduces=(Subject(SubjectKind.RECIPE, recipe.recipe),))


def effects_of_quotes(_shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what quotes do: each day of a market has one figure.

    Raises:
        EntryRefusedError: A day stands in the entry twice, or lies after the futures
            month that is quoted.
    """
    quotes = expect(recorded.record, QuoteRecorded)
    days = [quote.on for quote in quotes.quotes]
    _refuse_repeated_days(days, field="quotes")
    late = [day for day in days if quotes.month and f"{day:%Y-%m}" > quotes.month]
    if late:
        raise refuse(
            "month-over",
            "month",
            f"month is {quotes.month}, but {quotes.market} is quoted on {min(late)}, when "
            "that month was over; correct the month or the day",
        )
    return Effects(
        introduces=tuple(
            quote_subject(quotes.market, day, quotes.month) for day in days
        ),
        mentions=(Subject(SubjectKind.MARKET, quotes.market),),
    )


def effects_of_rates(_shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what exchange rates do: each day of a pair has one figure.

    Raises:
        EntryRefusedError: A day stands in the entry twice.
    """
    rates = expect(recorded.record, RateRecorded)
    days = [rate.on for rate in rates.rates]
    _refuse_repeated_days(days, field="rates")
    return Effects(
        introduces=tuple(
            rate_subject(rates.base, rates.to, day, rates.forward_months)
            for day in days
        )
    )


def _refuse_repeated_days(days: list[date], *, field: str) -> None:
    repeated = {day for day in days if days.count(day) > 1}
    if repeated:
        first = min(str(day) for day in repeated)
        raise refuse(
            "day-given-twice",
            field,
            f"{field} give {first} more than once; a day has one figure, so find out "
            "which is right and keep that one (they are never averaged)",
        )


def effects_of_document(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what attaching a paper does: it can be found by what it belongs to.

    Raises:
        EntryRefusedError: It belongs to something that is not recorded.
    """
    paper = expect(recorded.record, DocumentAttached)
    mentions = []
    for place, about in enumerate(paper.about):
        subject = Subject(SubjectKind(about.subject), about.name)
        require(shelf, subject, field=f"about.{place}")
        mentions.append(subject)
    return Effects(
        introduces=(Subject(SubjectKind.DOCUMENT, paper.document),),
        mentions=tuple(mentions),
    )


def effects_of_erasure(_shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what erasing a person's data does: nothing to the books."""
    erased = expect(recorded.record, DisclosureErased)
    return Effects(mentions=(Subject(SubjectKind.PARTY, erased.party),))
