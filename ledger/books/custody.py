"""Whether traced goods support a claim: what ISO 22095 asks of each custody model.

Every commodity in the goods is looked at by itself. Custody is stepped down, never up.
Segregated goods all carry the claim; identity-preserved ones come from one supplier
besides; of a controlled blend a known part does, which the claim states. Mass balance
asks nothing of the goods, for commodities that the terms allow it for; any other must be
segregated even in a product that claims mass balance.

Source: ISO 22095:2020, 3.3, chain of custody models. That organic goods are organic
themselves: 7 CFR 205.272, prevention of commingling.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.certified import Content, certifiable, sources_of
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.receiving import counts
from ledger.books.rejecting import is_rejected
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot
from ledger.trade.sale import SaleClaim
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Custody


@dataclass(frozen=True, slots=True)
class _Goods:
    """One commodity in a lot that is claimed.

    Attributes:
        commodity: The commodity.
        custody: Model that it must meet.
        parts: What the lot is counted as.
        sources: Received lots of it, with their shares of the commodity.
    """

    commodity: Commodity
    custody: Custody
    parts: tuple[Content, ...]
    sources: tuple[tuple[SourceLot, Fraction], ...]


def check_goods(
    shelf: Shelf,
    terms: TermsPublished,
    lot: str,
    claim: SaleClaim,
    on: date,
    *,
    field: str,
) -> None:
    """Refuse a claim that the traced goods do not support.

    Args:
        shelf: What is recorded.
        terms: Terms in force.
        lot: Lot that is claimed.
        claim: The claim.
        on: Trade date.
        field: Field of the claim.

    Raises:
        EntryRefusedError: The goods do not support it on that date.
    """
    for goods in _by_commodity(shelf, terms, lot, claim, field=field):
        if goods.custody is Custody.MASS_BALANCE:
            if terms.organic_in_goods and any(part.organic for part in goods.parts):
                _refuse_not_organic(goods, claim, lot, field)
        elif goods.custody is Custody.CONTROLLED_BLENDING:
            _refuse_beyond_blend(shelf, goods, claim, lot, on, field=field)
        else:
            _refuse_not_whole(shelf, goods, claim, lot, on, field=field)


def _by_commodity(
    shelf: Shelf,
    terms: TermsPublished,
    lot: str,
    claim: SaleClaim,
    *,
    field: str,
) -> Iterator[_Goods]:
    certified = certifiable(shelf, terms, lot, field=field)
    traced = sources_of(shelf, lot, field=field)
    for commodity in sorted({part.commodity for part in certified}):
        sources = [found for found in traced if found[0].commodity is commodity]
        whole = sum((share for _, share in sources), Fraction(0))
        balanced = not terms.mass_balance_for or commodity in terms.mass_balance_for
        stepped_up = claim.custody is Custody.MASS_BALANCE and not balanced
        yield _Goods(
            commodity=commodity,
            custody=Custody.SEGREGATED if stepped_up else claim.custody,
            parts=tuple(part for part in certified if part.commodity is commodity),
            sources=tuple((source, share / whole) for source, share in sources),
        )


def _refuse_not_whole(
    shelf: Shelf,
    goods: _Goods,
    claim: SaleClaim,
    lot: str,
    on: date,
    *,
    field: str,
) -> None:
    offending = [
        source.lot
        for source, _ in goods.sources
        if not _supports(shelf, goods, source, claim, on)
    ]
    suppliers = {source.supplier for source, _ in goods.sources}
    if goods.custody is Custody.IDENTITY_PRESERVED and len(suppliers) > 1:
        offending = [source.lot for source, _ in goods.sources]
    if offending or not goods.sources:
        raise _unsupported(goods, claim, lot, offending, field)
    _refuse_not_organic(goods, claim, lot, field)


def _refuse_not_organic(goods: _Goods, claim: SaleClaim, lot: str, field: str) -> None:
    """Refuse goods of which less is organic than what is claimed as organic."""
    whole = sum((part.share for part in goods.parts), Fraction(0))
    claimed = sum((part.share for part in goods.parts if part.organic), Fraction(0))
    organic = sum((s for source, s in goods.sources if source.organic), Fraction(0))
    if organic * whole < claimed:
        offending = [source.lot for source, _ in goods.sources if not source.organic]
        raise refuse(
            "goods-not-organic",
            field,
            f"{field} claims organic {goods.commodity} in lot {lot} under "
            f"{claim.scheme}, but lot {', '.join(offending) or 'nothing traced'} in it "
            "is not organic; sell it as conventional, or correct the batch or recipe",
        )


def _refuse_beyond_blend(
    shelf: Shelf,
    goods: _Goods,
    claim: SaleClaim,
    lot: str,
    on: date,
    *,
    field: str,
) -> None:
    parts = {
        source.lot: _supported_part(shelf, goods, source, claim, on)
        for source, _ in goods.sources
    }
    supported = sum((s * parts[lot.lot] for lot, s in goods.sources), Fraction(0))
    offending = [name for name, part in parts.items() if part < 1]
    if not supported:
        raise _unsupported(goods, claim, lot, offending, field)
    if claim.part > supported:
        raise refuse(
            "proportion-not-reached",
            field,
            f"{field} states the proportion {shown(claim.part)}, but of the "
            f"{goods.commodity} in lot {lot} only {shown(supported)} carries "
            f"{claim.scheme} (lot {', '.join(offending)} does not, or not whole); state "
            "at most that",
        )


def _supports(
    shelf: Shelf, goods: _Goods, source: SourceLot, claim: SaleClaim, on: date
) -> bool:
    """Tell whether a received lot carries a claim on goods that it went into."""
    return bool(_supported_part(shelf, goods, source, claim, on))


def _supported_part(
    shelf: Shelf, goods: _Goods, source: SourceLot, claim: SaleClaim, on: date
) -> Fraction:
    """Return the part of a received lot that carries a claim, 0 to 1."""
    if is_rejected(shelf, source.lot, on) or not any(
        _fits(part, source) for part in goods.parts
    ):
        return Fraction(0)
    carried = (
        own.part
        for own in source.claims
        if own.scheme == claim.scheme
        and own.custody.may_step_down_to(goods.custody)
        and counts(shelf, source, own)
    )
    return max(carried, default=Fraction(0))


def _fits(part: Content, source: SourceLot) -> bool:
    """Tell whether a received lot is of the origin and grade that a part states."""
    return part.origin in {None, source.origin} and part.grade in {None, source.grade}


def _unsupported(
    goods: _Goods, claim: SaleClaim, lot: str, offending: list[str], field: str
) -> EntryRefusedError:
    for_what = (
        f"{claim.custody} under {claim.scheme}"
        if goods.custody is claim.custody
        else f"{claim.custody} under {claim.scheme}, whose terms ask for segregated "
        f"{goods.commodity}"
    )
    return refuse(
        "goods-do-not-support-claim",
        field,
        f"{field} claims lot {lot} as {for_what}, but it contains lot "
        f"{', '.join(offending) or 'nothing traced'}, which that claim excludes; claim "
        "mass balance if the terms allow it, or sell without the claim",
    )
