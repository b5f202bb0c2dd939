"""Advances on a contract: what the seller may ask for, and what was paid of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from ledger.books import rounding
from ledger.books.bargain import Bargain, bargain_of, recorded_until
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.finding import Finding, warning
from ledger.books.lookup import expect, require
from ledger.books.price import agreed_price
from ledger.books.shelf import Shelf
from ledger.books.working import NotComputableError
from ledger.trade.contract import AdvanceRequested, PaymentMade
from ledger.trade.dues_terms import AdvanceTerm
from ledger.trade.grams import to_grams
from ledger.trade.money import minor_digits, minor_units
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Duty

_GRAMS_PER_TONNE = 1_000_000


@dataclass(frozen=True, slots=True)
class HighestAdvance:
    """What may be advanced on a contract on a date.

    Attributes:
        minor: Minor units of the currency, rounded up.
        currency: ISO 4217.
        terms: The terms that allow it.
        rule: What they say of it.
    """

    minor: int
    currency: str
    terms: TermsPublished
    rule: AdvanceTerm


def highest_advance(bargain: Bargain) -> HighestAdvance | None:
    """Return what may be advanced on a contract; None where no terms say.

    It is a part of the contract's value: its quantity at the price agreed, where what is
    not fixed is valued as if it were fixed on that day. Of several schemes, the one that
    allows most counts.

    Raises:
        NotComputableError: The price is sealed, or the market has no quote.
    """
    allowed = [
        (terms.advance, terms) for terms in bargain.terms if terms.advance is not None
    ]
    if not allowed:
        return None
    rule, terms = max(allowed, key=lambda found: found[0].percent)
    value, currency = _value(bargain)
    minor = value * Fraction(rule.percent) / 100 * 10 ** minor_digits(currency)
    return HighestAdvance(rounding.owed(minor), currency, terms, rule)


def _value(bargain: Bargain) -> tuple[Fraction, str]:
    """Return the value of the whole contract in major units, and its currency."""
    value, left_g, currency = Fraction(0), to_grams(bargain.contract.quantity_kg), ""
    for tranche in bargain.tranches:
        grams = left_g if tranche.grams is None else min(left_g, tranche.grams)
        if grams:
            price = agreed_price(bargain, tranche)
            value += max(price.amount, Fraction(0)) * grams / _GRAMS_PER_TONNE
            left_g, currency = left_g - grams, price.currency
    return value, currency


def warnings_of_payment(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield a warning where an advance goes beyond what the terms allow."""
    payment = expect(recorded.record, PaymentMade)
    if payment.towards is not Duty.ADVANCE:
        return
    subject = Subject(SubjectKind.CONTRACT, payment.contract)
    contract = require(shelf, subject, field="contract")
    yield from _beyond_terms(bargain_of(shelf, contract, recorded.occurred_on))


def findings_of_advances(bargain: Bargain) -> Iterator[Finding]:
    """Yield advances beyond what the terms allow, and requests that were not met."""
    shelf, contract = bargain.shelf, bargain.contract.contract
    advances = _paid(bargain, {Duty.ADVANCE})
    if advances:
        last = max(on for on, _ in advances)
        yield from _beyond_terms(bargain_of(shelf, bargain.recorded, last))
    requests = recorded_until(shelf, contract, "advance.requested", bargain.as_of)
    if requests:
        yield from _not_met(bargain, requests)


def _beyond_terms(bargain: Bargain) -> Iterator[Finding]:
    """Yield a warning where advances paid by a date are more than may be advanced."""
    contract = bargain.contract.contract
    try:
        highest = highest_advance(bargain)
    except NotComputableError as error:
        if not error.is_hidden:
            yield error.finding
        return
    advances = _paid(bargain, {Duty.ADVANCE})
    if highest is None or advances is None:
        return
    paid_minor = sum(minor for _, minor in advances)
    if paid_minor > highest.minor:
        paid, most = (
            _money(minor, highest.currency) for minor in (paid_minor, highest.minor)
        )
        percent = rounding.exactly(Fraction(highest.rule.percent))
        yield warning(
            "advance-beyond-terms",
            "money",
            f"{paid} was advanced on contract {contract} by {bargain.as_of}, but the terms "
            f"of {highest.terms.scheme} name {percent} % of its value, {most}, as the "
            f"highest ({highest.rule.source}); what is "
            "beyond bears the maker's own risk, so check that it was meant",
        )


def _not_met(bargain: Bargain, requests: list[Recorded]) -> Iterator[Finding]:
    """Yield requests whose advance was not paid in time, up to what may be asked for."""
    try:
        highest = highest_advance(bargain)
    except NotComputableError:
        return
    paid = _paid(bargain, {Duty.ADVANCE, Duty.PRICE})
    if highest is None or paid is None:
        return
    asked_minor = 0
    for found in requests:
        request = expect(found.record, AdvanceRequested)
        if request.money is None:  # Nobody can tell what later ones add to it.
            return
        asked_minor = min(asked_minor + minor_units(request.money), highest.minor)
        due_on = found.occurred_on + timedelta(days=highest.rule.days)
        missing_minor = asked_minor - sum(minor for _, minor in paid)
        if due_on < bargain.as_of and missing_minor > 0:
            yield warning(
                "advance-not-paid",
                "money",
                f"{_money(missing_minor, highest.currency)} of the advance that "
                f"{bargain.contract.seller} asked for with {request.request} on "
                f"{found.occurred_on} was not paid by {due_on}, as the terms of "
                f"{highest.terms.scheme} ask ({highest.rule.source}); pay it, and record "
                "it with payment.made towards advance",
            )


def _paid(bargain: Bargain, duties: set[Duty]) -> list[tuple[date, int]] | None:
    """Return days and minor units of what was paid towards some duties by a date.

    None where the amount of one is sealed from the reader.
    """
    contract = bargain.contract.contract
    paid = []
    for found in recorded_until(bargain.shelf, contract, "payment.made", bargain.as_of):
        payment = expect(found.record, PaymentMade)
        if payment.towards in duties:
            if payment.money is None:
                return None
            paid.append((found.occurred_on, minor_units(payment.money)))
    return paid


def _money(minor: int, currency: str) -> str:
    figure = Fraction(minor, 10 ** minor_digits(currency))
    return f"{rounding.shown(figure)} {currency}"
