"""What of each lot is paid for at which price: lots shared out over fixations."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.books.bargain import Tranche, take
from ledger.books.paid_weight import is_by_shipped, kg, show_weight
from ledger.books.rounding import shown
from ledger.books.source import SourceLot
from ledger.books.working import Working
from ledger.trade.contract import ContractSigned
from ledger.trade.grams import to_grams
from ledger.trade.words import WeightBasis


@dataclass(frozen=True, slots=True)
class Piece:
    """What of a lot has its price from one tranche.

    Attributes:
        lot: The lot.
        tranche: Where its price comes from.
        of_g: Grams of the whole lot that are paid for.
        grams: Grams of the piece that are paid for.
        workings: How these grams were reached from what the receipt is paid for.
    """

    lot: SourceLot
    tranche: Tranche
    of_g: Fraction
    grams: Fraction
    workings: tuple[Working, ...] = ()

    @property
    def share(self) -> Fraction:
        """Part of the lot that it is."""
        return self.grams / self.of_g

    def weighed_g(self, basis: WeightBasis) -> Fraction:
        """Return its grams by one weighing, which may not be what is paid for."""
        return _weighed_g(self.lot, basis) * self.share

    def share_line(self) -> Working | None:
        """Return how its share was reached; None where it is the whole lot."""
        if self.share == 1:
            return None
        return Working(
            f"part of lot {self.lot.lot} that is concerned",
            shown(self.share),
            reckoning=f"{kg(self.grams)} / {kg(self.of_g)}",
        )

    def weighing(self, basis: WeightBasis) -> str:
        """Return the arithmetic of its weight by one weighing."""
        whole = kg(_weighed_g(self.lot, basis))
        return whole if self.share == 1 else f"{whole} * {shown(self.share)}"


def pieces_of(
    contract: ContractSigned,
    lots: Sequence[SourceLot],
    payable_g: Fraction,
    left: list[tuple[Tranche, Fraction | None]],
) -> Iterator[Piece]:
    """Yield the pieces of lots that share what a receipt is paid for.

    Args:
        contract: Names the weight by which lots share it.
        lots: What the maker took.
        payable_g: Grams that are paid for.
        left: What is left of each tranche, in grams; None for one without end. Changed.
    """
    basis = WeightBasis.SHIPPED if is_by_shipped(contract) else WeightBasis.LANDED
    whole_g = sum(_weighed_g(lot, basis) for lot in lots)
    for lot in lots:
        own_g = _weighed_g(lot, basis)
        of_g = payable_g * own_g / whole_g
        line = Working(
            f"part of lot {lot.lot} in the weight paid for",
            show_weight(of_g),
            f"{basis} weight",
            reckoning=f"{kg(payable_g)} * {kg(own_g)} / {kg(whole_g)}",
        )
        first = (line,) if len(lots) > 1 else ()
        rest_g, before = of_g, list(left)
        for (tranche, left_g), (_, grams) in zip(
            before, take(left, of_g), strict=False
        ):
            lines = _priced(lot, tranche, left_g, of_g=of_g, rest_g=rest_g)
            yield Piece(lot, tranche, of_g, grams, (*first, *lines))
            rest_g -= grams


def _weighed_g(lot: SourceLot, basis: WeightBasis) -> int:
    is_shipped = basis is WeightBasis.SHIPPED
    return to_grams(lot.part.net_shipped_kg if is_shipped else lot.part.net_landed_kg)


def _priced(
    lot: SourceLot,
    tranche: Tranche,
    left_g: Fraction | None,
    *,
    of_g: Fraction,
    rest_g: Fraction,
) -> Iterator[Working]:
    """Yield how much of a lot a tranche prices, when some grams of it have no price yet."""
    if left_g is None or tranche.fixation is None:
        if rest_g != of_g:
            yield Working(
                f"rest of lot {lot.lot}, whose price is still to be fixed",
                show_weight(rest_g),
                reckoning=f"{kg(of_g)} - {kg(of_g - rest_g)}",
            )
        return
    name, whole_g = tranche.fixation.fixation, Fraction(tranche.grams or 0)
    yield Working(f"quantity fixed by {name}", show_weight(whole_g), "", tranche.entry)
    if left_g != whole_g:
        yield Working(
            f"left of it for lot {lot.lot}",
            show_weight(left_g),
            "what is fixed first goes to what is received first",
            reckoning=f"{kg(whole_g)} - {kg(whole_g - left_g)}",
        )
    yield Working(
        f"of lot {lot.lot} at the price of {name}",
        show_weight(min(left_g, rest_g)),
        reckoning=f"lowest of ({kg(left_g)}, {kg(rest_g)})",
    )
