"""Which weight of a receipt a contract pays for: shipped or landed, and the franchise."""

from fractions import Fraction

from ledger.books.rounding import shown
from ledger.books.working import Working
from ledger.trade.contract import ContractSigned
from ledger.trade.words import WeightBasis


def payable_weight_g(
    contract: ContractSigned, shipped_g: int, landed_g: int, *, entry: int
) -> tuple[Fraction, tuple[Working, ...]]:
    """Return the grams that a contract pays for, and how they were reached.

    Shipped weight is final at shipment; landed weight is what the scale at arrival
    shows. A franchise is the natural loss that the buyer bears: up to it the shipped
    weight is paid for, and only what is lost beyond it is the seller's. A gain is paid
    for on landed weight and not on shipped weight.

    Args:
        contract: Names weight basis and franchise.
        shipped_g: Net shipped weight of what the maker took.
        landed_g: Net landed weight of the same.
        entry: Sequence number of the receipt's entry.

    Source:
        International Trade Centre, The Coffee Guide, page "Weights", on net shipped
        and net landed weight and the weight franchise, beyond which the seller refunds
        the loss; question 238 there, on the European Contract for Coffee, article
        3 (e), by which the franchise is in per cent of the shipped weight. A franchise
        on landed weight is common practice, no source, and is read in the same way.
    """
    shipped = Working(
        "net shipped weight of the lots taken", show_weight(shipped_g), "", entry
    )
    landed = Working(
        "net landed weight of the lots taken", show_weight(landed_g), "", entry
    )
    clause = f"contract {contract.contract}, weight basis {contract.weight_basis}"
    is_landed = contract.weight_basis is WeightBasis.LANDED
    if contract.franchise_percent is None:
        payable = Fraction(landed_g if is_landed else shipped_g)
        return payable, (landed if is_landed else shipped,)
    allowed = Fraction(contract.franchise_percent)
    borne = shipped_g * allowed / 100
    excess = max(Fraction(0), shipped_g - landed_g - borne)
    gain = max(0, landed_g - shipped_g) if is_landed else 0
    payable = shipped_g - excess + gain
    percent = f"{shown(allowed)} %"
    return payable, (
        shipped,
        landed,
        Working(
            f"natural loss that the buyer bears: {percent} of the shipped weight",
            show_weight(borne),
            clause,
            reckoning=f"{kg(shipped_g)} * {shown(allowed)} / 100",
        ),
        Working(
            "loss beyond it, which is the seller's",
            show_weight(excess),
            reckoning=f"highest of ({kg(shipped_g)} - {kg(landed_g)} - {kg(borne)}, 0)",
        ),
        Working(
            "weight paid for: as landed, more than shipped"
            if gain
            else "weight paid for: as shipped, less the loss beyond",
            show_weight(payable),
            reckoning=kg(landed_g) if gain else f"{kg(shipped_g)} - {kg(excess)}",
        ),
    )


def show_weight(grams: Fraction | int) -> str:
    """Return a weight as text in kilograms."""
    return f"{shown(Fraction(grams) / 1000)} kg"


def kg(grams: Fraction | int) -> str:
    """Return a weight in kilograms for a line of arithmetic: exact, without the unit.

    Where decimals do not end it is a ratio, so that nothing has to be looked up above.
    """
    weight = Fraction(grams) / 1000
    text = shown(weight)
    return (
        f"({weight.numerator} / {weight.denominator})" if text.endswith("…") else text
    )


def is_by_shipped(contract: ContractSigned) -> bool:
    """Tell by which weight lots share what a receipt is paid for."""
    return (
        contract.weight_basis is WeightBasis.SHIPPED
        or contract.franchise_percent is not None
    )
