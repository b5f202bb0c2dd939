"""What a sale does: stock goes, and each claim draws on its accounts."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from ledger.books.account import ALL, Account
from ledger.books.certificate import is_certified
from ledger.books.certified import Content, content_of, sources_of
from ledger.books.conversion import factor_to_beans
from ledger.books.effect import (
    Cause,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import refuse
from ledger.books.lookup import expect, require, site_named, terms_in_force
from ledger.books.making import refuse_held
from ledger.books.receiving import counts, organisation, production
from ledger.books.rejecting import is_rejected
from ledger.books.rounding import drawn
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, lot_named
from ledger.trade.contract import Claim
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched, SaleLine
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Custody


def effects_of_sale(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a sale does to the books.

    Raises:
        EntryRefusedError: It names something unknown, moves a lot on hold, or makes a
            claim that the terms, the maker's certificate or the goods do not support.
    """
    sale = expect(recorded.record, SaleDispatched)
    day = recorded.occurred_on
    customer = Subject(SubjectKind.PARTY, sale.customer)
    require(shelf, customer, field="customer")
    site = site_named(shelf, sale.site, field="site")
    mentions, postings = [customer], []
    for place, line in enumerate(sale.lines):
        field = f"lines.{place}"
        lot_named(shelf, line.lot, field=f"{field}.lot")
        refuse_held(shelf, line.lot, recorded, field=f"{field}.lot")
        mentions.append(Subject(SubjectKind.LOT, line.lot))
        mentions += [Subject(SubjectKind.SCHEME, claim.scheme) for claim in line.claims]
        grams = to_grams(line.mass_kg)
        postings.append(Posting(Tally.stock(line.lot), day, -grams, Cause.SOLD))
        refuse_unsupported(shelf, line, day, field=field)
        for account, beans in sorted(draws(shelf, line, day, site, field=field)):
            postings.append(Posting(account.tally, day, -drawn(beans), Cause.SOLD))
    return Effects(
        introduces=(Subject(SubjectKind.SALE, sale.sale),),
        mentions=tuple(mentions),
        postings=tuple(postings),
    )


def refuse_unsupported(shelf: Shelf, line: SaleLine, day: date, *, field: str) -> None:
    """Refuse claims that the terms, the maker's certificate or the goods do not support.

    Raises:
        EntryRefusedError: A claim is not supported, or is made twice.
    """
    for place, claim in enumerate(line.claims):
        where = f"{field}.claims.{place}"
        _refuse_repeated(line, claim, where)
        terms = terms_in_force(shelf, claim.scheme, day, field=where)
        _check_custody(terms, claim, field=where)
        for part in _certifiable(shelf, terms, line.lot, claim, field=where):
            _check_maker(shelf, terms, part, claim, day, field=where)
        check_goods(shelf, terms, line.lot, claim, day, field=where)


def draws(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[tuple[Account, Fraction]]:
    """Yield what the claims of a sale line draw, in exact bean-equivalent grams.

    Raises:
        EntryRefusedError: The lot holds nothing that a scheme certifies, or the terms
            leave open how it is counted.
    """
    grams = to_grams(line.mass_kg)
    for place, claim in enumerate(line.claims):
        where = f"{field}.claims.{place}"
        terms = terms_in_force(shelf, claim.scheme, day, field=where)
        by_account: dict[Account, Fraction] = {}
        for part in _certifiable(shelf, terms, line.lot, claim, field=where):
            account = _drawn_account(terms, part, site, line.lot, field=where)
            factor = factor_to_beans(terms, part.commodity, part.form, day, field=where)
            beans = grams * part.share * factor
            by_account[account] = by_account.get(account, Fraction(0)) + beans
        yield from by_account.items()


def _certifiable(
    shelf: Shelf, terms: TermsPublished, lot: str, claim: Claim, *, field: str
) -> list[Content]:
    """Return the parts of a lot that a scheme certifies; there is at least one."""
    parts = [
        part
        for part in content_of(shelf, lot, field=field)
        if part.commodity in terms.commodities and part.share
    ]
    if not parts:
        raise refuse(
            "claim-without-content",
            field,
            f"{field} claims {claim.scheme}, but lot {lot} contains nothing that the "
            "scheme certifies; take the claim out",
        )
    return parts


def _refuse_repeated(line: SaleLine, claim: Claim, field: str) -> None:
    if sum(other.scheme == claim.scheme for other in line.claims) > 1:
        raise refuse(
            "claimed-twice",
            field,
            f"{field} claims {claim.scheme} more than once for lot {line.lot}; a "
            "kilogram is claimed once under each scheme, so keep one of the claims",
        )


def _check_custody(terms: TermsPublished, claim: Claim, *, field: str) -> None:
    if claim.custody not in terms.custody:
        allowed = ", ".join(terms.custody)
        raise refuse(
            "custody-not-allowed",
            field,
            f"{field} claims {claim.custody}, but the terms {terms.version} of "
            f"{terms.scheme} allow {allowed}; use one of these",
        )


def _check_maker(
    shelf: Shelf,
    terms: TermsPublished,
    part: Content,
    claim: Claim,
    day: date,
    *,
    field: str,
) -> None:
    """Refuse a claim on goods that the maker's own certificate does not cover."""
    maker = organisation(shelf)
    organic = terms.account.match_organic and part.organic
    if not is_certified(
        shelf,
        maker,
        claim.scheme,
        day,
        commodity=part.commodity,
        custody=claim.custody,
        organic=organic,
    ):
        grown = "organic " if organic else ""
        raise refuse(
            "maker-not-certified",
            field,
            f"{field} claims {claim.scheme} as {claim.custody}, but {maker.name} had no "
            f"certificate covering that for {grown}{part.commodity} on {day}; record it "
            "with certificate.recorded, or sell without the claim",
        )


def check_goods(
    shelf: Shelf, terms: TermsPublished, lot: str, claim: Claim, on: date, *, field: str
) -> None:
    """Refuse a claim that the traced goods do not support.

    Custody is stepped down, never up. Segregated goods all carry the claim, identity
    preserved ones come from one supplier besides, and controlled blending needs goods
    bought so or more strictly for a part of the blend. Mass balance asks nothing of the
    goods.

    Raises:
        EntryRefusedError: The goods do not support it on that date.

    Source: ISO 22095:2020, 3.3, chain of custody models.
    """
    if claim.custody is Custody.MASS_BALANCE:
        return
    sources = [
        source
        for source, _ in sources_of(shelf, lot, field=field)
        if source.commodity in terms.commodities
    ]
    offending = [
        source.lot for source in sources if not _supports(shelf, source, claim, on)
    ]
    suppliers = {source.supplier for source in sources}
    if claim.custody is Custody.CONTROLLED_BLENDING and len(offending) < len(sources):
        return
    if claim.custody is Custody.IDENTITY_PRESERVED and len(suppliers) > 1:
        offending = [source.lot for source in sources]
    if offending or not sources:
        raise refuse(
            "goods-do-not-support-claim",
            field,
            f"{field} claims lot {lot} as {claim.custody} under {claim.scheme}, but it "
            f"contains lot {', '.join(offending) or 'nothing traced'}, which that claim "
            "excludes; claim mass balance if the terms allow it, or sell without the "
            "claim",
        )


def _supports(shelf: Shelf, source: SourceLot, claim: Claim, on: date) -> bool:
    return not is_rejected(shelf, source.lot, on) and any(
        own.scheme == claim.scheme
        and own.custody.may_step_down_to(claim.custody)
        and counts(shelf, source, own)
        for own in source.claims
    )


def _drawn_account(
    terms: TermsPublished, part: Content, site: str, lot: str, *, field: str
) -> Account:
    if terms.account.match_origin and part.origin is None:
        raise refuse(
            "origin-unknown",
            field,
            f"{field} claims {terms.scheme}, whose accounts match origin, but the "
            f"{part.commodity} in lot {lot} is of no single stated origin; state the "
            "origin of each ingredient in the recipe",
        )
    return Account(
        scheme=terms.scheme,
        commodity=part.commodity,
        site=site,
        production=production(terms.account, organic=part.organic),
        origin=(part.origin or ALL) if terms.account.match_origin else ALL,
    )
