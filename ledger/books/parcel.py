"""What of a receipt is paid for, by weight, and in parts that are priced alike."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.books.bargain import Bargain, TradeDates, Tranche, recorded_until, take
from ledger.books.effect import Recorded
from ledger.books.finding import Finding, warning
from ledger.books.receiving import counts
from ledger.books.rounding import shown
from ledger.books.source import SourceLot, source_lots
from ledger.books.working import Working
from ledger.trade.contract import ContractSigned
from ledger.trade.grams import to_grams
from ledger.trade.words import Commodity, Form, WeightBasis


@dataclass(frozen=True, slots=True)
class Parcel:
    """A part of a receipt in which every kilogram has the same price and premium.

    Attributes:
        lots: Lots it comes from.
        commodity: What it is.
        form: Its form.
        origin: Country of origin.
        organic: Whether it is organic.
        schemes: Schemes under which its claim counts.
        tranche: Where its price comes from.
        payable_g: Grams on which the contract settles the price.
        shipped_g: Grams as shipped.
        landed_g: Grams as landed.
    """

    lots: tuple[str, ...]
    commodity: Commodity
    form: Form
    origin: str | None
    organic: bool
    schemes: tuple[str, ...]
    tranche: Tranche
    payable_g: Fraction
    shipped_g: Fraction
    landed_g: Fraction

    @property
    def treatment(self) -> tuple[object, ...]:
        """What decides about price and premium."""
        return (
            self.commodity,
            self.form,
            self.origin,
            self.organic,
            self.schemes,
            self.tranche.entry,
        )


@dataclass(frozen=True, slots=True)
class Received:
    """A receipt under a contract, ready to be priced.

    Attributes:
        recorded: The entry.
        shipment: Name of the shipment.
        dates: Its trade dates.
        parcels: What the maker took of it.
        workings: How the weight that is paid for was reached.
        findings: Lots whose claim does not count.
    """

    recorded: Recorded
    shipment: str
    dates: TradeDates
    parcels: tuple[Parcel, ...]
    workings: tuple[Working, ...]
    findings: tuple[Finding, ...]


def receipts_of(bargain: Bargain) -> Iterator[Received]:
    """Yield the receipts under a contract, in order of date.

    Each uses up the fixations of the contract in their own order. Rejected lots are not
    paid for and use up nothing.
    """
    contract = bargain.contract
    left: list[tuple[Tranche, Fraction | None]] = [
        (part, None if part.grams is None else Fraction(part.grams))
        for part in bargain.tranches
    ]
    name = contract.contract
    for recorded in recorded_until(
        bargain.shelf, name, "shipment.received", bargain.as_of
    ):
        lots = tuple(source_lots(bargain.shelf, recorded))
        taken = tuple(lot for lot in lots if lot.part.decision == "accepted")
        if not taken:
            continue
        shipped_g = sum(to_grams(lot.part.net_shipped_kg) for lot in taken)
        landed_g = sum(to_grams(lot.part.net_landed_kg) for lot in taken)
        payable_g, workings = payable_weight_g(
            contract, shipped_g, landed_g, entry=recorded.seq
        )
        by_shipped = _is_by_shipped(contract)
        whole_g = shipped_g if by_shipped else landed_g
        parcels: list[Parcel] = []
        for lot in taken:
            kg = lot.part.net_shipped_kg if by_shipped else lot.part.net_landed_kg
            lot_g = payable_g * to_grams(kg) / whole_g
            schemes = _schemes_that_count(bargain, lot)
            parcels += (
                _parcel(lot, schemes, tranche, grams, grams / lot_g)
                for tranche, grams in take(left, lot_g)
            )
        yield Received(
            recorded=recorded,
            shipment=taken[0].shipment,
            dates=TradeDates.of(bargain.shelf, taken[0]),
            parcels=_together(parcels),
            workings=(*_refused(lots, recorded), *workings),
            findings=tuple(_without_claim(bargain, taken, parcels)),
        )


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
    borne = shipped_g * Fraction(contract.franchise_percent) / 100
    excess = max(Fraction(0), shipped_g - landed_g - borne)
    gain = max(0, landed_g - shipped_g) if is_landed else 0
    payable = shipped_g - excess + gain
    percent = f"{shown(Fraction(contract.franchise_percent))} %"
    return payable, (
        shipped,
        landed,
        Working(
            f"natural loss that the buyer bears: {percent} of the shipped weight",
            show_weight(borne),
            clause,
        ),
        Working("loss beyond it, which is the seller's", show_weight(excess)),
        Working(
            "weight paid for: as landed, more than shipped"
            if gain
            else "weight paid for: as shipped, less the loss beyond",
            show_weight(payable),
        ),
    )


def show_weight(grams: Fraction | int) -> str:
    """Return a weight as text in kilograms."""
    return f"{shown(Fraction(grams) / 1000)} kg"


def _is_by_shipped(contract: ContractSigned) -> bool:
    """Tell by which weight lots share what a receipt is paid for."""
    return (
        contract.weight_basis is WeightBasis.SHIPPED
        or contract.franchise_percent is not None
    )


def _schemes_that_count(bargain: Bargain, lot: SourceLot) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            claim.scheme for claim in lot.claims if counts(bargain.shelf, lot, claim)
        )
    )


def _parcel(
    lot: SourceLot,
    schemes: tuple[str, ...],
    tranche: Tranche,
    payable_g: Fraction,
    share: Fraction,
) -> Parcel:
    return Parcel(
        lots=(lot.lot,),
        commodity=lot.commodity,
        form=lot.form,
        origin=lot.origin,
        organic=lot.organic,
        schemes=schemes,
        tranche=tranche,
        payable_g=payable_g,
        shipped_g=to_grams(lot.part.net_shipped_kg) * share,
        landed_g=to_grams(lot.part.net_landed_kg) * share,
    )


def _together(parcels: list[Parcel]) -> tuple[Parcel, ...]:
    """Return parcels with those that are treated alike put together."""
    alike: dict[tuple[object, ...], Parcel] = {}
    for parcel in parcels:
        before = alike.get(parcel.treatment)
        alike[parcel.treatment] = (
            parcel
            if before is None
            else replace(
                before,
                lots=(*before.lots, *parcel.lots),
                payable_g=before.payable_g + parcel.payable_g,
                shipped_g=before.shipped_g + parcel.shipped_g,
                landed_g=before.landed_g + parcel.landed_g,
            )
        )
    return tuple(alike.values())


def _refused(lots: tuple[SourceLot, ...], recorded: Recorded) -> Iterator[Working]:
    for lot in lots:
        if lot.part.decision == "rejected":
            yield Working(
                f"lot {lot.lot} rejected ({lot.part.rejected_because}): not paid for",
                show_weight(0),
                entry=recorded.seq,
            )


def _without_claim(
    bargain: Bargain, taken: tuple[SourceLot, ...], parcels: list[Parcel]
) -> Iterator[Finding]:
    for terms in bargain.terms:
        lots = [
            lot.lot
            for lot in taken
            if not any(lot.lot in p.lots and terms.scheme in p.schemes for p in parcels)
        ]
        if lots:
            yield warning(
                "claim-does-not-count",
                "claims",
                f"the claim under {terms.scheme} does not count for {', '.join(lots)} of "
                f"shipment {taken[0].shipment}, so contract {bargain.contract.contract} "
                "owes its own price for it and nothing that the scheme adds; if the "
                "seller was certified, record the certificate",
            )
