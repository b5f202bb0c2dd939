"""What of a receipt is paid for, by weight, and in parts that are priced alike."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.books.bargain import Bargain, TradeDates, Tranche, recorded_until
from ledger.books.effect import Recorded
from ledger.books.finding import Finding, warning
from ledger.books.paid_weight import payable_weight_g, show_weight
from ledger.books.piece import Piece, pieces_of
from ledger.books.receiving import counts
from ledger.books.source import SourceLot, source_lots
from ledger.books.working import Working
from ledger.trade.grams import to_grams
from ledger.trade.words import Commodity, Form


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
        pieces: What of each lot is in it.
    """

    lots: tuple[str, ...]
    commodity: Commodity
    form: Form
    origin: str | None
    organic: bool
    schemes: tuple[str, ...]
    tranche: Tranche
    pieces: tuple[Piece, ...]

    @property
    def payable_g(self) -> Fraction:
        """Grams on which the contract settles the price."""
        return sum((piece.grams for piece in self.pieces), Fraction(0))

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
        parcels = [
            _parcel(_schemes_that_count(bargain, piece.lot), piece)
            for piece in pieces_of(contract, taken, payable_g, left)
        ]
        yield Received(
            recorded=recorded,
            shipment=taken[0].shipment,
            dates=TradeDates.of(bargain.shelf, taken[0]),
            parcels=_together(parcels),
            workings=(*_refused(lots, recorded), *workings),
            findings=tuple(_without_claim(bargain, taken, parcels)),
        )


def _schemes_that_count(bargain: Bargain, lot: SourceLot) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            claim.scheme for claim in lot.claims if counts(bargain.shelf, lot, claim)
        )
    )


def _parcel(schemes: tuple[str, ...], piece: Piece) -> Parcel:
    lot = piece.lot
    return Parcel(
        lots=(lot.lot,),
        commodity=lot.commodity,
        form=lot.form,
        origin=lot.origin,
        organic=lot.organic,
        schemes=schemes,
        tranche=piece.tranche,
        pieces=(piece,),
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
                pieces=(*before.pieces, *parcel.pieces),
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
