"""From parcels and prices per tonne to due lines: weighed, shared out, rounded once."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from ledger.books import rounding
from ledger.books.bargain import Bargain, TradeDates
from ledger.books.due_line import DueLine, Standing
from ledger.books.finding import Finding
from ledger.books.market import PerTonne
from ledger.books.on_top import (
    Beside,
    PremiumOwed,
    differential_of,
    organic_of,
    premium_of,
)
from ledger.books.paid_weight import kg, show_weight
from ledger.books.parcel import Parcel, Received
from ledger.books.price import price_of
from ledger.books.working import ROUNDED_UP, NotComputableError, Working
from ledger.trade.money import minor_digits
from ledger.trade.terms import SELLER, PayeeShare, TermsPublished
from ledger.trade.words import Duty

_GRAMS_PER_TONNE = 1_000_000


@dataclass(frozen=True, slots=True)
class Part:
    """What one parcel adds to a due line, before rounding.

    Attributes:
        line: What it adds to, still without an amount; parts of equal lines add up.
        amount: Major units of the line's currency, exact.
        weight: How the weight was reached.
        workings: How the amount was reached from the weight.
        missing: Why it has no amount, where it has none.
    """

    line: DueLine
    amount: Fraction = Fraction(0)
    weight: tuple[Working, ...] = ()
    workings: tuple[Working, ...] = ()
    missing: Finding | None = None


def parts_of(bargain: Bargain, receipt: Received) -> Iterator[Part]:
    """Yield what each parcel of a receipt adds to every duty."""
    for parcel in receipt.parcels:
        yield from _price_part(bargain, receipt, parcel)
        yield from _seasonal_part(bargain, receipt, parcel)
        yield from _organic_part(bargain, receipt, parcel)
        for terms in bargain.terms:
            if terms.scheme in parcel.schemes:
                yield from _premium_parts(bargain, receipt, parcel, terms)


def _price_part(bargain: Bargain, receipt: Received, parcel: Parcel) -> Iterator[Part]:
    line = _price_line(bargain, receipt, Duty.PRICE)
    try:
        price = price_of(bargain, parcel, receipt.dates)
    except NotComputableError as error:
        yield _missing(line, error)
        return
    if parcel.tranche.is_open:
        line = _provisional(line, "the price is still to be fixed")
    yield _part(line, parcel, price, _weight(receipt, parcel), parcel.payable_g)


def _seasonal_part(
    bargain: Bargain, receipt: Received, parcel: Parcel
) -> Iterator[Part]:
    yield from _beside_part(bargain, receipt, parcel, Duty.SEASONAL, differential_of)


def _organic_part(
    bargain: Bargain, receipt: Received, parcel: Parcel
) -> Iterator[Part]:
    yield from _beside_part(bargain, receipt, parcel, Duty.ORGANIC, organic_of)


def _beside_part(
    bargain: Bargain,
    receipt: Received,
    parcel: Parcel,
    duty: Duty,
    asked: Callable[[Bargain, Parcel, TradeDates], Beside | None],
) -> Iterator[Part]:
    """Yield what is owed beside the price, on the weight that the price is paid on."""
    line = _price_line(bargain, receipt, duty)
    try:
        beside = asked(bargain, parcel, receipt.dates)
    except NotComputableError as error:
        yield _missing(line, error)
        return
    if beside is not None:
        price, is_provisional = beside
        if is_provisional:
            line = _provisional(line, "its row depends on a fixation still to come")
        yield _part(line, parcel, price, _weight(receipt, parcel), parcel.payable_g)


def _premium_parts(
    bargain: Bargain, receipt: Received, parcel: Parcel, terms: TermsPublished
) -> Iterator[Part]:
    due_on = receipt.dates.due_on(terms.premium_due)
    line = _line(bargain, receipt, Duty.PREMIUM, terms.scheme, due_on)
    try:
        premium = premium_of(bargain, terms, parcel, receipt.dates)
    except NotComputableError as error:
        yield _missing(line, error)
        return
    if premium is None:
        return
    if premium.is_provisional:
        line = _provisional(line, "its row depends on a fixation still to come")
    grams, workings = _premium_weight(terms, receipt, parcel)
    for share in premium.payees:
        payee = line.payee if share.payee == SELLER else share.payee
        price = _shared(premium, share)
        yield _part(replace(line, payee=payee), parcel, price, workings, grams)


def _shared(premium: PremiumOwed, share: PayeeShare) -> PerTonne:
    """Return the part of a premium that one payee is owed."""
    if share.share == 1:
        return premium.price
    amount = premium.price.amount * Fraction(share.share)
    currency = premium.price.currency
    working = Working(
        f"share of {share.payee}: {rounding.shown(Fraction(share.share))} of the premium",
        f"{rounding.shown(amount)} {currency}/t",
        reckoning=f"{rounding.shown(premium.price.amount)} * "
        f"{rounding.shown(Fraction(share.share))}",
    )
    return PerTonne(amount, currency, (*premium.price.workings, working))


def _premium_weight(
    terms: TermsPublished, receipt: Received, parcel: Parcel
) -> tuple[Fraction, tuple[Working, ...]]:
    """Return the grams that a premium is paid on.

    The contract's own weight with its franchise, unless the terms name a weight: then
    that weight as it is, since a franchise is agreed for the price.
    """
    basis = terms.premium_weight
    if basis is None:
        return parcel.payable_g, _weight(receipt, parcel)
    grams = sum((piece.weighed_g(basis) for piece in parcel.pieces), Fraction(0))
    shares = (piece.share_line() for piece in parcel.pieces)
    line = Working(
        f"net {basis} weight of lots {', '.join(parcel.lots)}",
        show_weight(grams),
        f"{terms.scheme} {terms.version}: premium on {basis} weight",
        receipt.recorded.seq,
        reckoning=" + ".join(piece.weighing(basis) for piece in parcel.pieces),
    )
    return grams, (*(share for share in shares if share is not None), line)


def _weight(receipt: Received, parcel: Parcel) -> tuple[Working, ...]:
    """Return how the weight of a parcel that is paid for was reached."""
    pieces = parcel.pieces
    together = Working(
        f"weight of lots {', '.join(parcel.lots)}, which have one price",
        show_weight(parcel.payable_g),
        reckoning=" + ".join(kg(piece.grams) for piece in pieces),
    )
    return (
        *receipt.workings,
        *(working for piece in pieces for working in piece.workings),
        *([together] if len(pieces) > 1 else []),
    )


def _price_line(bargain: Bargain, receipt: Received, duty: Duty) -> DueLine:
    """Return an empty line for the price: due as the first scheme to ask for it says."""
    days = [receipt.dates.due_on(terms.price_due) for terms in bargain.terms]
    return _line(bargain, receipt, duty, None, min(days, default=None))


def _line(
    bargain: Bargain,
    receipt: Received,
    duty: Duty,
    scheme: str | None,
    due_on: date | None,
) -> DueLine:
    return DueLine(
        contract=bargain.contract.contract,
        shipment=receipt.shipment,
        received_on=receipt.recorded.occurred_on,
        entry=receipt.recorded.seq,
        duty=duty,
        scheme=scheme,
        payee=bargain.contract.seller,
        due_on=due_on,
        currency=bargain.currency,
        amount_minor=None,
        standing=Standing.FINAL,
    )


def _provisional(line: DueLine, because: str) -> DueLine:
    return replace(line, standing=Standing.PROVISIONAL, because=because)


def _missing(line: DueLine, error: NotComputableError) -> Part:
    standing = Standing.NOT_DISCLOSED if error.is_hidden else Standing.NOT_COMPUTABLE
    missing = replace(line, standing=standing, because=error.finding.message)
    return Part(missing, missing=error.finding)


def _part(
    line: DueLine,
    parcel: Parcel,
    price: PerTonne,
    weight: tuple[Working, ...],
    grams: Fraction,
) -> Part:
    amount = price.amount * grams / _GRAMS_PER_TONNE
    working = Working(
        f"lots {', '.join(parcel.lots)}: {show_weight(grams)} at {price.shown}",
        f"{rounding.shown(amount)} {price.currency}",
        reckoning=f"{kg(grams)} * {rounding.shown(price.amount)} / 1000",
    )
    return Part(
        line=replace(line, currency=price.currency),
        amount=amount,
        weight=weight,
        workings=(*price.workings, working),
    )


def lines_of(parts: Iterable[Part]) -> Iterator[DueLine]:
    """Yield one line for all parts of a receipt, duty, payee and standing.

    A part without a figure stays a line of its own, so that what is known of the same
    receipt keeps its figure.
    """
    together: dict[DueLine, list[Part]] = {}
    for part in parts:
        together.setdefault(part.line, []).append(part)
    for line, alike in together.items():
        if any(part.missing is not None for part in alike) or line.currency is None:
            yield line
            continue
        amount = sum((part.amount for part in alike), Fraction(0))
        minor = rounding.owed(amount * 10 ** minor_digits(line.currency))
        # Parts of one receipt share the lines about its weight; said once is enough.
        weight = dict.fromkeys(working for part in alike for working in part.weight)
        rest = (working for part in alike for working in part.workings)
        figure = Fraction(minor, 10 ** minor_digits(line.currency))
        due = Working(
            "amount due: the parts above together" if len(alike) > 1 else "amount due",
            f"{rounding.shown(figure)} {line.currency}",
            ROUNDED_UP,
            reckoning=" + ".join(rounding.shown(part.amount) for part in alike),
        )
        yield replace(line, amount_minor=minor, workings=(*weight, *rest, due))
