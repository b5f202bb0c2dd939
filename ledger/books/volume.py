"""Volumes of a quarter: bought, used, sold with and without a claim, in stock, by form."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.books.balance import Balance, balance_of
from ledger.books.bean_flow import BeanFlow, bean_flows, cocoa_in
from ledger.books.corrected_quarter import corrected_since_closed
from ledger.books.effect import Cause, Recorded, Tally
from ledger.books.quarter import Quarter
from ledger.books.quarter_claims import accounts_of, claimed_by_lot, entries_in
from ledger.books.receiving import counts
from ledger.books.reconciliation import (
    Flow,
    Goods,
    Reconciliation,
    goods_of_lot,
    reconcile,
)
from ledger.books.shelf import Shelf
from ledger.books.source import source_lots
from ledger.trade.sale import SaleDispatched, SaleReturned
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.words import Form


@dataclass(frozen=True, slots=True)
class Volume:
    """One form, or all forms, over a quarter, in grams.

    Attributes:
        form: The form; None for all of them together.
        all: Everything that moved, as weighed.
        claimed: Of what was bought, sold and came back: what carries the scheme's claim.
        all_beans: The same as `all` in bean equivalent, by column of `Flow`.
        claimed_beans: The same as `claimed` in bean equivalent.
    """

    form: Form | None
    all: Flow
    claimed: Flow
    all_beans: Mapping[str, Fraction]
    claimed_beans: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class QuarterVolumes:
    """All cocoa of a quarter, with what carried the claim of one scheme.

    Attributes:
        scheme: The scheme.
        terms: Version of its terms, whose factors make bean equivalent.
        quarter: The quarter.
        volumes: One a form, in the order in which forms are reached.
        whole: All of them together.
        accounts: The scheme's accounts over the quarter.
        without_factor: Forms that the terms have no factor for; they are left out of
            bean equivalent.
        corrected: Numbers of entries that corrected something of the quarter after it was
            closed.
    """

    scheme: str
    terms: str
    quarter: Quarter
    volumes: tuple[Volume, ...]
    whole: Volume
    accounts: tuple[Balance, ...]
    without_factor: tuple[Form, ...]
    corrected: tuple[int, ...]


def volumes_of(shelf: Shelf, quarter: Quarter) -> tuple[QuarterVolumes, ...]:
    """Return the volumes of a quarter, for each scheme that has terms in force.

    A lot bought under the claim is one whose claim counts; goods that came back carry
    the claims they were sold with, less what was taken back before.

    Args:
        shelf: What is recorded.
        quarter: The quarter.
    """
    found = reconcile(shelf, since=quarter.first, until=quarter.last)
    cocoa: dict[Goods | None, Flow] = {
        goods: flow
        for goods, flow in found.flows.items()
        if goods is not None and cocoa_in(shelf, goods)
    }
    whole = replace(found, flows=cocoa)
    return tuple(
        _under(shelf, quarter, whole, flow) for flow in bean_flows(shelf, whole)
    )


def _under(
    shelf: Shelf, quarter: Quarter, found: Reconciliation, beans: BeanFlow
) -> QuarterVolumes:
    claimed = _claimed(shelf, quarter, beans.scheme)
    forms = [form for form in Form if any(g and g.form is form for g in found.flows)]
    return QuarterVolumes(
        scheme=beans.scheme,
        terms=beans.terms,
        quarter=quarter,
        volumes=tuple(
            _volume(shelf, beans.scheme, form, found, claimed) for form in forms
        ),
        whole=_volume(shelf, beans.scheme, None, found, claimed),
        accounts=tuple(
            balance_of(shelf, account, since=quarter.first, until=quarter.last)
            for account in accounts_of(shelf, beans.scheme)
        ),
        without_factor=beans.without_factor,
        corrected=corrected_since_closed(shelf, quarter),
    )


def _volume(
    shelf: Shelf,
    scheme: str,
    form: Form | None,
    found: Reconciliation,
    claimed: Mapping[Goods, Flow],
) -> Volume:
    own: dict[Goods | None, Flow] = {
        goods: flow
        for goods, flow in found.flows.items()
        if goods is not None and form in {None, goods.form}
    }
    part: dict[Goods | None, Flow] = {
        goods: claimed.get(goods, Flow()) for goods in own if goods is not None
    }
    return Volume(
        form=form,
        all=Flow.of(own.values()),
        claimed=Flow.of(part.values()),
        all_beans=_beans(shelf, scheme, replace(found, flows=own)),
        claimed_beans=_beans(shelf, scheme, replace(found, flows=part)),
    )


def _beans(shelf: Shelf, scheme: str, found: Reconciliation) -> Mapping[str, Fraction]:
    return next(
        flow.grams for flow in bean_flows(shelf, found) if flow.scheme == scheme
    )


def _claimed(shelf: Shelf, quarter: Quarter, scheme: str) -> dict[Goods, Flow]:
    """Return what was bought, sold and came back under a claim, by goods."""
    flows: dict[Goods, Flow] = defaultdict(Flow)
    for found in entries_in(shelf, scheme, quarter):
        match found.record:
            case ShipmentReceived():
                for lot in _bought(shelf, found, scheme):
                    received_g = _received_g(shelf, lot, quarter)
                    flows[goods_of_lot(shelf, lot)].bought_g += received_g
            case SaleDispatched():
                for lot, grams in claimed_by_lot(shelf, found, scheme):
                    flows[goods_of_lot(shelf, lot)].sold_g += grams
            case SaleReturned():
                for lot, grams in claimed_by_lot(shelf, found, scheme):
                    flows[goods_of_lot(shelf, lot)].returned_g += grams
            case _:
                pass
    return flows


def _bought(shelf: Shelf, receipt: Recorded, scheme: str) -> Iterator[str]:
    for lot in source_lots(shelf, receipt):
        own = [claim for claim in lot.claims if claim.scheme == scheme]
        if any(counts(shelf, lot, claim) for claim in own):
            yield lot.lot


def _received_g(shelf: Shelf, lot: str, quarter: Quarter) -> int:
    run = shelf.run(Tally.stock(lot), since=quarter.first, until=quarter.last)
    return sum(m.grams for m in run.movements if m.cause is Cause.RECEIVED)
