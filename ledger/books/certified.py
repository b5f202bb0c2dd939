"""How much of a lot is certified, and what it stands for in bean equivalent."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.conversion import factor_to_beans
from ledger.books.finding import refuse
from ledger.books.lookup import recipe_named, site_named, terms_in_force
from ledger.books.receiving import account_of, counts
from ledger.books.rejecting import rejection_of
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, composition, lot_named
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
    """

    commodity: Commodity
    form: Form
    share: Fraction
    origin: str | None
    organic: bool


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
                found.commodity, found.form, Fraction(1), found.origin, found.organic
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
    return (
        Content(
            commodities.pop(),
            found.form,
            Fraction(1),
            origins.pop() if len(origins) == 1 else None,
            organic=all(source.organic for source, _ in sources),
        ),
    )


def sources_of(
    shelf: Shelf, lot: str, *, field: str
) -> tuple[tuple[SourceLot, Fraction], ...]:
    """Return the source lots of a lot with their exact shares, sorted by lot number."""
    return tuple(
        (found, share)
        for name, share in sorted(composition(shelf, lot).items())
        if isinstance(found := lot_named(shelf, name, field=field), SourceLot)
    )


def beans_per_gram(
    terms: TermsPublished,
    contents: tuple[Content, ...],
    commodity: Commodity,
    on: date,
    *,
    field: str,
) -> Fraction:
    """Return bean equivalent of one commodity in one gram of a lot."""
    return sum(
        (
            part.share
            * factor_to_beans(terms, part.commodity, part.form, on, field=field)
            for part in contents
            if part.commodity is commodity
        ),
        Fraction(0),
    )


def certified_content_g(
    shelf: Shelf, lot: str, grams: int, on: date, *, field: str
) -> dict[Account, Fraction]:
    """Return the certified bean equivalent in some grams of a lot, by account.

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
    found: dict[Account, Fraction] = {}
    for source, share in sources:
        for claim in source.claims:
            if not counts(shelf, source, claim) or rejection_of(shelf, source.lot):
                continue
            terms = terms_in_force(shelf, claim.scheme, on, field=field)
            beans = beans_per_gram(terms, contents, source.commodity, on, field=field)
            account = account_of(terms, source, site_of(shelf, source))
            part = grams * beans * share / whole[source.commodity]
            found[account] = found.get(account, Fraction(0)) + part
    return {account: beans for account, beans in found.items() if beans}


def site_of(shelf: Shelf, source: SourceLot) -> str:
    """Return the site at which a lot was received."""
    record = source.receipt.record
    site = record.site if isinstance(record, ShipmentReceived) else None
    return site_named(shelf, site, field="site")
