"""What a sale does: stock goes, and each claim draws on its accounts."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.account_rule import refuse_unlisted_grade
from ledger.books.certificate import is_certified
from ledger.books.certified import (
    Content,
    account_of_part,
    certifiable,
    content_of,
)
from ledger.books.claim_rule import (
    refuse_beside,
    refuse_custody,
    refuse_label,
    refuse_repeated,
    refuse_small_share,
)
from ledger.books.conversion import factor_to_beans
from ledger.books.custody import check_goods
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
from ledger.books.finding import refuse
from ledger.books.lookup import expect, maker, require, site_named, terms_in_force
from ledger.books.making import refuse_held
from ledger.books.parting import parting_for
from ledger.books.rolling import rolling_terms, throughput
from ledger.books.rounding import drawn
from ledger.books.shelf import Shelf
from ledger.books.source import lot_named
from ledger.trade.contract import Claim
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched, SaleLine
from ledger.trade.terms import TermsPublished


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
        out = outputs_of(shelf, line, day, site, field=field)
        postings += [
            throughput(Book.OUTPUT, account, day, drawn(beans), Cause.SOLD)
            for account, beans in sorted(out)
        ]
    mentions += [
        Subject(SubjectKind.SCHEME, terms.scheme) for terms in rolling_terms(shelf, day)
    ]
    postings += parting_for(shelf, recorded, postings)
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
        refuse_repeated(line, claim, field=where)
        terms = terms_in_force(shelf, claim.scheme, day, field=where)
        refuse_custody(terms, claim, field=where)
        refuse_beside(terms, line.claims, field=where)
        refuse_label(terms, claim, field=where)
        contents = content_of(shelf, line.lot, field=where)
        refuse_small_share(terms, contents, claim, lot=line.lot, field=where)
        for part in certifiable(shelf, terms, line.lot, field=where):
            _check_maker(shelf, terms, part, claim, day, field=where)
        check_goods(shelf, terms, line.lot, claim, day, field=where)


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """What one claim draws for one ingredient of a sale line.

    Attributes:
        claim: The claim.
        terms: Terms in force.
        content: The ingredient.
        account: Account that is drawn on.
        grams: Grams of goods on the line.
        factor: Kilograms of bean equivalent for one of the ingredient's form.
    """

    claim: Claim
    terms: TermsPublished
    content: Content
    account: Account
    grams: int
    factor: Fraction

    @property
    def beans(self) -> Fraction:
        """Grams of bean equivalent, exact; of a controlled blend, the known part."""
        return self.grams * self.content.share * self.factor * self.claim.part


def drawn_parts(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[tuple[DrawnPart, ...]]:
    """Yield what each claim of a sale line draws, ingredient by ingredient.

    Raises:
        EntryRefusedError: The lot holds nothing that a scheme certifies, or the terms
            leave open how it is counted.
    """
    for place, claim in enumerate(line.claims):
        where = f"{field}.claims.{place}"
        terms = terms_in_force(shelf, claim.scheme, day, field=where)
        yield tuple(
            DrawnPart(
                claim=claim,
                terms=terms,
                content=part,
                account=_drawn_account(terms, part, day, site, line.lot, field=where),
                grams=to_grams(line.mass_kg),
                factor=factor_to_beans(
                    shelf, terms, part.commodity, part.form, day, field=where
                ),
            )
            for part in certifiable(shelf, terms, line.lot, field=where)
        )


def draws(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[tuple[Account, Fraction]]:
    """Yield what the claims of a sale line draw, in exact bean-equivalent grams.

    Raises:
        EntryRefusedError: The lot holds nothing that a scheme certifies, or the terms
            leave open how it is counted.
    """
    for parts in drawn_parts(shelf, line, day, site, field=field):
        by_account: dict[Account, Fraction] = {}
        for part in parts:
            before = by_account.get(part.account, Fraction(0))
            by_account[part.account] = before + part.beans
        yield from by_account.items()


def outputs_of(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[tuple[Account, Fraction]]:
    """Yield what a sale line adds to all that is sold, by the account of each form.

    It is kept where terms average percentages, in exact grams of bean equivalent. What
    is sold is rounded as what is claimed: up, account by account, and down where it
    comes back. Else goods that are all claimed would seem more than were sold.

    Raises:
        EntryRefusedError: The terms leave open how the lot is counted.
    """
    for parts in output_parts(shelf, line, day, site, field=field):
        for account, found in parts.items():
            yield account, sum((part.beans for part in found), Fraction(0))


@dataclass(frozen=True, slots=True)
class OutputPart:
    """What one ingredient of a sale line adds to all that is sold under some terms.

    Attributes:
        terms: Terms in force, which average percentages.
        content: The ingredient.
        beans: Grams of bean equivalent, exact.
    """

    terms: TermsPublished
    content: Content
    beans: Fraction


def output_parts(
    shelf: Shelf, line: SaleLine, day: date, site: str, *, field: str
) -> Iterator[dict[Account, list[OutputPart]]]:
    """Yield what a sale line adds to all that is sold, by account, scheme by scheme.

    Raises:
        EntryRefusedError: The terms leave open how the lot is counted.
    """
    grams = to_grams(line.mass_kg)
    for terms in rolling_terms(shelf, day):
        by_account: dict[Account, list[OutputPart]] = {}
        for part in content_of(shelf, line.lot, field=f"{field}.lot"):
            if part.commodity in terms.commodities:
                account = account_of_part(terms, part, day, site)
                factor = factor_to_beans(
                    shelf, terms, part.commodity, part.form, day, field=f"{field}.lot"
                )
                found = OutputPart(terms, part, grams * part.share * factor)
                by_account.setdefault(account, []).append(found)
        yield by_account


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
    holder = maker(shelf)
    organic = terms.account.match_organic and part.organic
    if not is_certified(
        shelf,
        holder,
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
            f"{field} claims {claim.scheme} as {claim.custody}, but {holder.name} had no "
            f"certificate covering that for {grown}{part.commodity} on {day}; record it "
            "with certificate.recorded, or sell without the claim",
        )


def _drawn_account(
    terms: TermsPublished, part: Content, day: date, site: str, lot: str, *, field: str
) -> Account:
    if terms.account.match_origin and part.origin is None:
        raise refuse(
            "origin-unknown",
            field,
            f"{field} claims {terms.scheme}, whose accounts match origin, but the "
            f"{part.commodity} in lot {lot} is of no single stated origin; state the "
            "origin of each ingredient in the recipe",
        )
    refuse_unlisted_grade(
        terms, part.grade, field=field, what=f"the {part.commodity} in lot {lot}"
    )
    return account_of_part(terms, part, day, site)
