"""How much of a lot is certified, and what it stands for in bean equivalent."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.account_rule import account_under
from ledger.books.conversion import factor_to_beans
from ledger.books.finding import refuse
from ledger.books.lookup import recipe_named, site_named, terms_in_force
from ledger.books.receiving import counts
from ledger.books.rejecting import rejection_of
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, composition, lot_named
from ledger.trade.contract import Claim
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


@dataclass(frozen=True, slots=True)
class Content:
    """A part of a lot that is counted by itself.

    Attributes:
        commodity: What it is.
        form: Form it is counted in.
        share: Part of the lot's mass, 0 to 1.
        origin: Country of origin, where it is one.
        organic: Whether all of it is organic.
        grade: Grade, where it is one.
    """

    commodity: Commodity
    form: Form
    share: Fraction
    origin: str | None
    organic: bool
    grade: str | None = None


def content_of(shelf: Shelf, lot: str, *, field: str) -> tuple[Content, ...]:
    """Return what a lot is made of, for counting.

    A lot made to a recipe is counted by the recipe; any other lot is one commodity in
    one form, of one origin where all its source lots agree, and organic where all are.

    Raises:
        EntryRefusedError: The lot is not recorded, or mixes commodities without a
            recipe.
    """
    found = lot_named(shelf, lot, field=field)
    if isinstance(found, SourceLot):
        return (
            Content(
                found.commodity,
                found.form,
                Fraction(1),
                found.origin,
                found.organic,
                found.grade,
            ),
        )
    if found.output.recipe is not None:
        recipe = recipe_named(shelf, found.output.recipe, field=field)
        return tuple(
            Content(
                part.commodity,
                part.form,
                Fraction(part.share),
                part.origin,
                part.organic,
                part.grade,
            )
            for part in recipe.ingredients
        )
    sources = list(sources_of(shelf, lot, field=field))
    commodities = {source.commodity for source, _ in sources}
    if len(commodities) > 1:
        raise refuse(
            "mixed-without-recipe",
            field,
            f"{field} names lot {lot}, which mixes {', '.join(sorted(commodities))} "
            "without a recipe; correct its batch to name the recipe it was made to",
        )
    origins = {source.origin for source, _ in sources}
    grades = {source.grade for source, _ in sources}
    return (
        Content(
            commodities.pop(),
            found.form,
            Fraction(1),
            origins.pop() if len(origins) == 1 else None,
            organic=all(source.organic for source, _ in sources),
            grade=grades.pop() if len(grades) == 1 else None,
        ),
    )


def certifiable(
    shelf: Shelf, terms: TermsPublished, lot: str, *, field: str
) -> tuple[Content, ...]:
    """Return the parts of a lot that a scheme certifies; there is at least one.

    Raises:
        EntryRefusedError: There is none.
    """
    parts = tuple(
        part
        for part in content_of(shelf, lot, field=field)
        if part.commodity in terms.commodities and part.share
    )
    if not parts:
        raise refuse(
            "claim-without-content",
            field,
            f"{field} claims {terms.scheme}, but lot {lot} contains nothing that the "
            "scheme certifies; take the claim out",
        )
    return parts


def account_of_part(
    terms: TermsPublished, part: Content, on: date, site: str
) -> Account:
    """Return the account that a part of a lot is counted in, on a date and at a site."""
    return account_under(
        terms,
        on,
        commodity=part.commodity,
        form=part.form,
        site=site,
        organic=part.organic,
        origin=part.origin,
        grade=part.grade,
    )


def sources_of(
    shelf: Shelf, lot: str, *, field: str
) -> tuple[tuple[SourceLot, Fraction], ...]:
    """Return the source lots of a lot with their exact shares, sorted by lot number."""

    def work_out() -> tuple[tuple[SourceLot, Fraction], ...]:
        return tuple(
            (found, share)
            for name, share in sorted(composition(shelf, lot).items())
            if isinstance(found := lot_named(shelf, name, field=field), SourceLot)
        )

    return shelf.remember(("source lots", lot), work_out)


@dataclass(frozen=True, slots=True)
class CertifiedPart:
    """What one claim on one source lot stands for in some grams of a lot.

    Attributes:
        source: The source lot.
        claim: The claim under which it was bought, and which counts.
        terms: Terms in force.
        content: The part of the lot that it is counted in.
        account: Account that it belongs to.
        grams: Grams of the lot.
        share: Part of the lot that came from the source lot.
        whole: Part of the lot that came from source lots of the same commodity.
        factor: Kilograms of bean equivalent for one of the content's form.
    """

    source: SourceLot
    claim: Claim
    terms: TermsPublished
    content: Content
    account: Account
    grams: int
    share: Fraction
    whole: Fraction
    factor: Fraction

    @property
    def beans(self) -> Fraction:
        """Grams of bean equivalent, exact."""
        goods = self.grams * self.claim.part * self.share / self.whole
        return goods * self.content.share * self.factor


def certified_content_g(
    shelf: Shelf, lot: str, grams: int, on: date, *, field: str
) -> dict[Account, Fraction]:
    """Return the certified bean equivalent in some grams of a lot, by account.

    Raises:
        EntryRefusedError: The lot is not recorded, or a factor is missing.
    """
    found: dict[Account, Fraction] = {}
    for part in certified_parts(shelf, lot, grams, on, field=field):
        before = found.get(part.account, Fraction(0))
        found[part.account] = before + part.beans
    return {account: beans for account, beans in found.items() if beans}


def certified_parts(
    shelf: Shelf, lot: str, grams: int, on: date, *, field: str
) -> Iterator[CertifiedPart]:
    """Yield what is certified in some grams of a lot, by source lot and claim.

    The part of a commodity that came from lots whose claim counts is taken from the
    lot's traced composition. A received lot that was rejected has lost its credit as a
    whole, so nothing of it is drawn a second time.

    Raises:
        EntryRefusedError: The lot is not recorded, or a factor is missing.
    """
    sources = sources_of(shelf, lot, field=field)
    contents = content_of(shelf, lot, field=field)
    whole: dict[Commodity, Fraction] = {}
    for source, share in sources:
        whole[source.commodity] = whole.get(source.commodity, Fraction(0)) + share
    for source, share in sources:
        alike = [part for part in contents if part.commodity is source.commodity]
        for claim in source.claims:
            if not counts(shelf, source, claim) or rejection_of(shelf, source.lot):
                continue
            terms = terms_in_force(shelf, claim.scheme, on, field=field)
            for part in alike:
                yield CertifiedPart(
                    source=source,
                    claim=claim,
                    terms=terms,
                    content=part,
                    account=_account_in(shelf, terms, source, part, on),
                    grams=grams,
                    share=share,
                    whole=whole[source.commodity],
                    factor=factor_to_beans(
                        shelf, terms, part.commodity, part.form, on, field=field
                    ),
                )


def _account_in(
    shelf: Shelf, terms: TermsPublished, source: SourceLot, part: Content, on: date
) -> Account:
    """Return the account of a source lot's commodity, in the form that it has reached."""
    return account_under(
        terms,
        on,
        commodity=part.commodity,
        form=part.form,
        site=site_of(shelf, source),
        organic=source.organic,
        origin=source.origin,
        grade=source.grade,
    )


def site_of(shelf: Shelf, source: SourceLot) -> str:
    """Return the site at which a lot was received."""
    record = source.receipt.record
    site = record.site if isinstance(record, ShipmentReceived) else None
    return site_named(shelf, site, field="site")
