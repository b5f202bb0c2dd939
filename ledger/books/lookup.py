"""Finding what an entry names; naming what is missing, and the way out."""

from datetime import date
from typing import TypeVar

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.shelf import Shelf
from ledger.trade.contract import ContractSigned
from ledger.trade.opening import LedgerOpened
from ledger.trade.recipe import RecipePublished
from ledger.trade.record import Record
from ledger.trade.terms import LimitsPublished, TermsPublished

R = TypeVar("R", bound=Record)

_BROUGHT_IN_BY = {
    SubjectKind.PARTY: "party.registered",
    SubjectKind.CERTIFICATE: "certificate.recorded",
    SubjectKind.SCHEME: "terms.published",
    SubjectKind.RECIPE: "recipe.published",
    SubjectKind.CONTRACT: "contract.signed",
    SubjectKind.SHIPMENT: "shipment.dispatched",
    SubjectKind.LOT: "shipment.received or batch.made",
    SubjectKind.SALE: "sale.dispatched",
    SubjectKind.HOLD: "hold.placed",
    SubjectKind.SITE: "ledger.opened",
}


def require(shelf: Shelf, subject: Subject, *, field: str) -> Recorded:
    """Return the record that brought a subject in.

    Raises:
        EntryRefusedError: Nothing of that name is recorded.
    """
    found = shelf.introducer(subject)
    if found is None:
        kind = _BROUGHT_IN_BY.get(subject.kind, "the entry that names it")
        raise refuse(
            f"unknown-{subject.kind}",
            field,
            f"{field} names {subject}, which is not recorded; record it with {kind} "
            "first, or correct the name",
        )
    return found


def opening(shelf: Shelf) -> LedgerOpened:
    """Return the entry that opened the ledger.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    first = shelf.at(0)
    if first is None or not isinstance(first.record, LedgerOpened):
        raise refuse(
            "not-opened",
            "",
            "the ledger has no opening entry; open it before recording",
        )
    return first.record


def maker(shelf: Shelf) -> Subject:
    """Return the maker, as a holder of certificates.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    return Subject(SubjectKind.ORGANISATION, opening(shelf).organisation)


def site_named(shelf: Shelf, site: str | None, *, field: str) -> str:
    """Return the site an entry is about: the one it names, or the maker's first.

    Raises:
        EntryRefusedError: It names a site that the opening entry does not have.
    """
    sites = [known.site for known in opening(shelf).sites]
    if site is None:
        return sites[0]
    if site not in sites:
        raise refuse(
            "unknown-site",
            field,
            f"{field} names site {site}, but the ledger was opened for "
            f"{', '.join(sites)}; use one of these",
        )
    return site


def terms_in_force(
    shelf: Shelf, scheme: str, on: date, *, field: str
) -> TermsPublished:
    """Return the version of a scheme's terms that governs on a date.

    Raises:
        EntryRefusedError: No terms of that scheme are recorded, or none governs yet.
    """
    terms = governing_terms(shelf, scheme, on)
    if terms is None:
        known = min((t.valid_from for t in terms_of(shelf, scheme)), default=None)
        since = (
            "none is recorded" if known is None else f"the first governs from {known}"
        )
        raise refuse(
            "no-terms",
            field,
            f"{field} names scheme {scheme}, but no terms of it govern on {on} ({since}); "
            "record them with terms.published first",
        )
    return terms


def governing_terms(shelf: Shelf, scheme: str, on: date) -> TermsPublished | None:
    """Return the version of a scheme's terms that governs on a date, if one does."""
    in_force = [terms for terms in terms_of(shelf, scheme) if terms.valid_from <= on]
    return max(in_force, key=lambda terms: terms.valid_from, default=None)


def terms_of(shelf: Shelf, scheme: str) -> list[TermsPublished]:
    """Return every version of a scheme's terms, in the order recorded."""
    subject = Subject(SubjectKind.SCHEME, scheme)
    return [
        expect(found.record, TermsPublished)
        for found in shelf.about(subject, "terms.published")
    ]


def limits_in_force(shelf: Shelf, on: date) -> LimitsPublished | None:
    """Return the maker's list of what is usual that governs on a date, if one does."""
    versions = [
        limits
        for found in shelf.of_kind("limits.published")
        if (limits := expect(found.record, LimitsPublished)).valid_from <= on
    ]
    return max(versions, key=lambda limits: limits.valid_from, default=None)


def schemes_of(shelf: Shelf) -> list[str]:
    """Return every scheme of which terms are recorded, by name."""
    published = shelf.of_kind("terms.published")
    return sorted({expect(found.record, TermsPublished).scheme for found in published})


def contract_named(shelf: Shelf, contract: str, *, field: str) -> ContractSigned:
    """Return a contract.

    Raises:
        EntryRefusedError: It is not recorded.
    """
    found = require(shelf, Subject(SubjectKind.CONTRACT, contract), field=field)
    return expect(found.record, ContractSigned)


def recipe_named(shelf: Shelf, recipe: str, *, field: str) -> RecipePublished:
    """Return a recipe.

    Raises:
        EntryRefusedError: It is not recorded.
    """
    found = require(shelf, Subject(SubjectKind.RECIPE, recipe), field=field)
    return expect(found.record, RecipePublished)


def expect(record: Record, model: type[R]) -> R:
    """Return a record that is known to be of a model, or fail loudly.

    Raises:
        TypeError: It is not, which is a mistake in this program.
    """
    if not isinstance(record, model):
        raise TypeError(f"expected {model.__name__}, found {type(record).__name__}")
    return record
