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
from ledger.books.rounding import credited, drawn
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, lot_named
from ledger.trade.contract import Claim
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.sale import SaleDispatched, SaleLine, SaleReturned
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
        refuse_held(shelf, line.lot, day, field=f"{field}.lot")
        mentions.append(Subject(SubjectKind.LOT, line.lot))
        mentions += [Subject(SubjectKind.SCHEME, claim.scheme) for claim in line.claims]
        grams = to_grams(line.mass_kg)
        postings.append(Posting(Tally.stock(line.lot), day, -grams, Cause.SOLD))
        for account, beans in sorted(draws(shelf, line, day, site, field=field)):
            postings.append(Posting(account.tally, day, -drawn(beans), Cause.SOLD))
    return Effects(
        introduces=(Subject(SubjectKind.SALE, sale.sale),),
        mentions=tuple(mentions),
        postings=tuple(postings),
    )


def draws(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[tuple[Account, Fraction]]:
    """Yield what the claims of a sale line draw, in exact bean-equivalent grams.

    Raises:
        EntryRefusedError: A claim is not supported, or is made twice.
    """
    grams = to_grams(line.mass_kg)
    contents = content_of(shelf, line.lot, field=f"{field}.lot")
    for place, claim in enumerate(line.claims):
        where = f"{field}.claims.{place}"
        _refuse_repeated(line, claim, where)
        terms = terms_in_force(shelf, claim.scheme, day, field=where)
        _check_claim(shelf, terms, claim, day, field=where)
        _check_goods(shelf, terms, line.lot, claim, field=where)
        by_account: dict[Account, Fraction] = {}
        for part in contents:
            if part.commodity not in terms.commodities:
                continue
            account = _drawn_account(terms, part, site, line.lot, field=where)
            factor = factor_to_beans(terms, part.commodity, part.form, day, field=where)
            beans = grams * part.share * factor
            by_account[account] = by_account.get(account, Fraction(0)) + beans
        if not by_account:
            raise refuse(
                "claim-without-content",
                where,
                f"{where} claims {claim.scheme}, but lot {line.lot} contains nothing "
                "that the scheme certifies; take the claim out",
            )
        yield from by_account.items()


def _refuse_repeated(line: SaleLine, claim: Claim, field: str) -> None:
    if sum(other.scheme == claim.scheme for other in line.claims) > 1:
        raise refuse(
            "claimed-twice",
            field,
            f"{field} claims {claim.scheme} more than once for lot {line.lot}; a "
            "kilogram is claimed once under each scheme, so keep one of the claims",
        )


def _check_claim(
    shelf: Shelf, terms: TermsPublished, claim: Claim, day: date, *, field: str
) -> None:
    if claim.custody not in terms.custody:
        allowed = ", ".join(terms.custody)
        raise refuse(
            "custody-not-allowed",
            field,
            f"{field} claims {claim.custody}, but the terms {terms.version} of "
            f"{terms.scheme} allow {allowed}; use one of these",
        )
    maker = organisation(shelf)
    if not is_certified(shelf, maker, claim.scheme, day, custody=claim.custody):
        raise refuse(
            "maker-not-certified",
            field,
            f"{field} claims {claim.scheme} as {claim.custody}, but {maker.name} had no "
            f"certificate covering that on {day}; record it with certificate.recorded, "
            "or sell without the claim",
        )


def _check_goods(
    shelf: Shelf, terms: TermsPublished, lot: str, claim: Claim, *, field: str
) -> None:
    """Refuse a physical claim that the traced goods do not support (ISO 22095, 3.3)."""
    if claim.custody in {Custody.MASS_BALANCE, Custody.CONTROLLED_BLENDING}:
        return
    sources = [
        source
        for source, _ in sources_of(shelf, lot, field=field)
        if source.commodity in terms.commodities
    ]
    offending = [
        source.lot for source in sources if not _supports(shelf, source, claim)
    ]
    suppliers = {source.supplier for source in sources}
    if claim.custody is Custody.IDENTITY_PRESERVED and len(suppliers) > 1:
        offending = [source.lot for source in sources]
    if offending:
        raise refuse(
            "goods-do-not-support-claim",
            field,
            f"{field} claims lot {lot} as {claim.custody} under {claim.scheme}, but it "
            f"contains lot {', '.join(offending)}, which that claim excludes; claim mass "
            "balance if the terms allow it, or sell without the claim",
        )


def _supports(shelf: Shelf, source: SourceLot, claim: Claim) -> bool:
    return any(
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


def effects_of_return(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what goods coming back do: stock and claims come back with them.

    Raises:
        EntryRefusedError: The sale is unknown, or more comes back than was sold.
    """
    returned = expect(recorded.record, SaleReturned)
    subject = Subject(SubjectKind.SALE, returned.sale)
    sold = require(shelf, subject, field="sale")
    sale = expect(sold.record, SaleDispatched)
    if recorded.occurred_on < sold.occurred_on:
        raise refuse(
            "return-before-sale",
            "sale",
            f"return {returned.return_} is of {recorded.occurred_on}, before sale "
            f"{returned.sale} of {sold.occurred_on}; correct one of the dates",
        )
    site = site_named(shelf, sale.site, field="site")
    mentions, postings = [subject], []
    for place, line in enumerate(returned.lines):
        grams = to_grams(line.mass_kg)
        sale_line = _line_sold(shelf, recorded, sale, line.lot, grams, place=place)
        mentions.append(Subject(SubjectKind.LOT, line.lot))
        postings.append(
            Posting(Tally.stock(line.lot), recorded.occurred_on, grams, Cause.RETURNED)
        )
        back = draws(shelf, sale_line, sold.occurred_on, site, field=f"lines.{place}")
        for account, beans in sorted(back):
            part = credited(beans * grams / to_grams(sale_line.mass_kg))
            postings.append(
                Posting(account.tally, recorded.occurred_on, part, Cause.RETURNED)
            )
    return Effects(
        introduces=(Subject(SubjectKind.RETURN, returned.return_),),
        mentions=tuple(mentions),
        postings=tuple(postings),
    )


def _line_sold(
    shelf: Shelf,
    recorded: Recorded,
    sale: SaleDispatched,
    lot: str,
    grams: int,
    *,
    place: int,
) -> SaleLine:
    found = [line for line in sale.lines if line.lot == lot]
    sold_g = sum(to_grams(line.mass_kg) for line in found)
    back_g = sum(
        to_grams(line.mass_kg)
        for other in shelf.about(Subject(SubjectKind.SALE, sale.sale), "sale.returned")
        if other.slot != recorded.slot
        for line in expect(other.record, SaleReturned).lines
        if line.lot == lot
    )
    if not found or grams > sold_g - back_g:
        raise refuse(
            "more-returned-than-sold",
            f"lines.{place}",
            f"lines.{place} returns {show_kg(grams)} kg of lot {lot}, but sale "
            f"{sale.sale} has {show_kg(sold_g - back_g)} kg of it left to return; "
            "correct the mass, or name the sale it was part of",
        )
    return found[0]
