"""Fees on what was sold under a claim in a quarter, scheme by scheme."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from ledger.books import rounding
from ledger.books.corrected_quarter import corrected_since_closed
from ledger.books.effect import Subject, SubjectKind
from ledger.books.fee_base import Charged, charged_beans, charged_values
from ledger.books.finding import Finding, warning
from ledger.books.lookup import schemes_of, terms_in_force
from ledger.books.paid_weight import show_weight
from ledger.books.price_table import written
from ledger.books.quarter import Quarter
from ledger.books.shelf import Shelf
from ledger.books.working import ROUNDED_UP, Working
from ledger.trade.dues_terms import FeeOnMass, FeeOnValue
from ledger.trade.money import currency_of, minor_digits, per_tonne
from ledger.trade.terms import TermsPublished

_GRAMS_PER_TONNE = 1_000_000


@dataclass(frozen=True, slots=True)
class FeeLine:
    """What one row of a scheme's fees comes to in one quarter and currency.

    Attributes:
        scheme: The scheme.
        terms: Version of its terms.
        fee: The row.
        currency: ISO 4217.
        amount: What is charged: grams of bean equivalent, or invoiced value in major
            units; below zero where more came back than was sold.
        amount_minor: The fee in minor units, rounded up; below zero for a credit.
        due_on: Last day on which payment is in time.
        workings: The arithmetic, sale by sale.
    """

    scheme: str
    terms: str
    fee: FeeOnMass | FeeOnValue
    currency: str
    amount: Fraction
    amount_minor: int
    due_on: date
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True)
class QuarterFees:
    """The fees of one quarter.

    Attributes:
        quarter: The quarter.
        lines: One a row and currency, by scheme.
        findings: Sales whose value is not recorded or not disclosed.
        corrected: Numbers of entries that corrected something of the quarter after it was
            closed.
    """

    quarter: Quarter
    lines: tuple[FeeLine, ...]
    findings: tuple[Finding, ...]
    corrected: tuple[int, ...]


@dataclass(slots=True)
class _Gathered:
    amount: Fraction = Fraction(0)
    workings: list[Working] = field(default_factory=list)


_Key = tuple[str, FeeOnMass | FeeOnValue, str]
"""Version of the terms, row, and currency."""


def fees_of(shelf: Shelf, quarter: Quarter) -> QuarterFees:
    """Return the fees on certified sales of a quarter.

    What is charged is what was claimed on goods dispatched in the quarter, less the
    claims that came back in it, at the row in force on the day of the sale. Several rows
    may be in force beside one another: one for each basis, commodity and payee.

    Args:
        shelf: What is recorded.
        quarter: The quarter.
    """
    lines: list[FeeLine] = []
    findings: list[Finding] = []
    for scheme in schemes_of(shelf):
        gathered: dict[_Key, _Gathered] = {}
        for charged in charged_beans(shelf, scheme, quarter):
            for key in _keys(shelf, scheme, charged, FeeOnMass):
                _add(gathered.setdefault(key, _Gathered()), charged)
        for charged in charged_values(shelf, scheme, quarter):
            keys = list(_keys(shelf, scheme, charged, FeeOnValue))
            if keys and charged.currency is None:
                findings.append(_without_value(scheme, charged))
                continue
            for key in keys:
                _add(gathered.setdefault(key, _Gathered()), charged)
        lines += (_line(shelf, scheme, quarter, key, gathered[key]) for key in gathered)
    return QuarterFees(
        quarter,
        tuple(lines),
        tuple(dict.fromkeys(findings)),
        corrected_since_closed(shelf, quarter),
    )


def _keys(
    shelf: Shelf,
    scheme: str,
    charged: Charged,
    basis: type[FeeOnMass] | type[FeeOnValue],
) -> Iterator[_Key]:
    """Yield the rows of one basis that are in force for what is charged."""
    for terms, row in _rows(shelf, scheme, charged.sold_on):
        if not isinstance(row, basis):
            continue
        if isinstance(row, FeeOnValue):
            yield terms.version, row, charged.currency or ""
        elif row.commodity == charged.commodity:
            yield terms.version, row, currency_of(row.price)


def _rows(
    shelf: Shelf, scheme: str, on: date
) -> Iterator[tuple[TermsPublished, FeeOnMass | FeeOnValue]]:
    """Yield the rows in force on a day: the latest of each basis, commodity and payee.

    A sale under the scheme was let in, so terms of it govern on its day.
    """
    terms = terms_in_force(shelf, scheme, on, field="claims")
    latest: dict[tuple[str, str, str], FeeOnMass | FeeOnValue] = {}
    for row in sorted(terms.fees, key=lambda row: row.valid_from):
        if row.valid_from <= on:
            commodity = row.commodity if isinstance(row, FeeOnMass) else ""
            latest[row.basis, commodity, row.payee] = row
    for row in latest.values():
        yield terms, row


def _add(gathered: _Gathered, charged: Charged) -> None:
    gathered.amount += charged.amount
    gathered.workings += charged.workings


def _line(
    shelf: Shelf, scheme: str, quarter: Quarter, key: _Key, gathered: _Gathered
) -> FeeLine:
    version, row, currency = key
    exact, workings = _reckoned(row, gathered, currency)
    unit = 10 ** minor_digits(currency)
    minor = rounding.owed(exact * unit)
    name = Subject(SubjectKind.TERMS, f"{scheme}@{version}")
    published = shelf.introducer(name)
    rule = Working(
        f"fee, valid from {row.valid_from}",
        rate_of(row),
        f"{scheme} {version}: {row.source}",
        None if published is None else published.seq,
    )
    due = Working(
        "amount due",
        f"{rounding.shown(Fraction(minor, unit))} {currency}",
        ROUNDED_UP,
        reckoning=rounding.shown(exact),
    )
    return FeeLine(
        scheme=scheme,
        terms=version,
        fee=row,
        currency=currency,
        amount=gathered.amount,
        amount_minor=minor,
        due_on=quarter.last + timedelta(days=row.due_days),
        workings=(*gathered.workings, rule, *workings, due),
    )


def _reckoned(
    row: FeeOnMass | FeeOnValue, gathered: _Gathered, currency: str
) -> tuple[Fraction, tuple[Working, ...]]:
    """Return the fee in major units, exact, and the arithmetic from what is charged."""
    if isinstance(row, FeeOnMass):
        price = per_tonne(row.price)
        exact = price * gathered.amount / _GRAMS_PER_TONNE
        parts = [working.figure.removesuffix(" kg") for working in gathered.workings]
        charged = Working(
            "claimed in bean equivalent",
            show_weight(gathered.amount),
            reckoning=_added(parts),
        )
        kilograms = rounding.shown(gathered.amount / 1000)
        sums = f"{kilograms} * {rounding.shown(price)} / 1000"
    else:
        exact = gathered.amount * Fraction(row.percent) / 100
        parts = [
            working.figure.removesuffix(f" {currency}")
            for working in gathered.workings
            if working.reckoning
        ]
        charged = Working(
            "value of what was claimed",
            f"{rounding.shown(gathered.amount)} {currency}",
            reckoning=_added(parts),
        )
        value = rounding.shown(gathered.amount)
        sums = f"{value} * {rounding.shown(Fraction(row.percent))} / 100"
    fee = Working("fee", f"{rounding.shown(exact)} {currency}", reckoning=sums)
    return exact, (charged, fee)


def _added(parts: Iterable[str]) -> str:
    return " + ".join(parts).replace("+ -", "- ")


def rate_of(row: FeeOnMass | FeeOnValue) -> str:
    """Return the rate of a fee in words."""
    if isinstance(row, FeeOnMass):
        return f"{written(row.price)} of bean equivalent"
    return f"{rounding.exactly(Fraction(row.percent))} % of the value invoiced"


def _without_value(scheme: str, charged: Charged) -> Finding:
    return warning(
        "value-missing",
        "value",
        f"sale {charged.sale} of {charged.sold_on} claims {scheme}, whose fee is on the "
        "value invoiced, but its value is not recorded or not disclosed to this reader; "
        "correct the sale to state it, or have it disclosed",
    )
