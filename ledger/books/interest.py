"""Interest on what was paid late, or is late still: simple, at the rate of the terms."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from ledger.books import rounding
from ledger.books.bargain import Bargain
from ledger.books.day_count import years_between
from ledger.books.due_line import DueLine, Standing
from ledger.books.payment import Settlement
from ledger.books.working import ROUNDED_UP, Working
from ledger.trade.dues_terms import LateInterest
from ledger.trade.money import minor_digits
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Duty


def interest_of(
    bargain: Bargain, settlements: Iterable[Settlement]
) -> Iterator[DueLine]:
    """Yield one line of interest for every due that was paid late or is overdue.

    Each part is counted from the due date to the day its payment arrived, and what is
    open to the date of the report. The rate is that of the terms in force on the due
    date, for the whole time. Interest bears no interest. Where several schemes ask for
    it, the highest is owed, and law may ask for more.

    Args:
        bargain: The contract and its terms.
        settlements: What is owed and was paid of it.
    """
    for settlement in settlements:
        for line in settlement.lines:
            found = [
                interest
                for terms in bargain.terms
                if line.scheme in {None, terms.scheme}
                and (interest := _interest(bargain, terms, line)) is not None
            ]
            yield from sorted(found, key=lambda one: -(one.amount_minor or 0))[:1]


@dataclass(frozen=True, slots=True)
class _Late:
    """A part of a due that came, or has not come, after its day.

    Attributes:
        minor: Minor units of the currency.
        until: Day it came, or of the report.
        workings: What it is.
    """

    minor: int
    until: date
    workings: tuple[Working, ...]


def _interest(bargain: Bargain, terms: TermsPublished, line: DueLine) -> DueLine | None:
    if line.due_on is None or line.currency is None:
        return None
    late = list(_late_parts(line, line.currency, bargain.as_of))
    in_force = bargain.terms_on(terms.scheme, line.due_on)
    rows = [row for row in in_force.late_interest if row.valid_from <= line.due_on]
    if not late or not rows:
        return None
    row = max(rows, key=lambda row: row.valid_from)
    unit = 10 ** minor_digits(line.currency)
    amounts, workings = [], []
    for part in late:
        amount, working = _on(part, row, line.due_on, line.currency, unit)
        amounts.append(amount)
        workings += [
            *part.workings,
            replace(working, rule=f"{terms.scheme} {in_force.version}: {row.source}"),
        ]
    total = sum(amounts, Fraction(0))
    if not total:
        return None
    minor = rounding.owed(total * unit)
    due = Working(
        "amount due",
        f"{rounding.shown(Fraction(minor, unit))} {line.currency}",
        ROUNDED_UP,
        reckoning=" + ".join(map(rounding.shown, amounts)),
    )
    standing, because = _standing(line)
    return replace(
        line,
        duty=Duty.INTEREST,
        on_duty=line.duty,
        scheme=terms.scheme,
        due_on=max(part.until for part in late),
        amount_minor=minor,
        standing=standing,
        because=because,
        workings=(*workings, due),
        paid=(),
    )


def _late_parts(line: DueLine, currency: str, as_of: date) -> Iterator[_Late]:
    unit = 10 ** minor_digits(currency)
    for paid in line.paid:
        if paid.late_days:
            figure = rounding.shown(Fraction(paid.amount_minor, unit))
            text = (
                f"part of {line.duty} due on {line.due_on} that payment {paid.payment} "
                f"brought on {paid.paid_on}"
            )
            working = Working(text, f"{figure} {currency}", "", paid.entry)
            yield _Late(paid.amount_minor, paid.paid_on, (working,))
    if line.overdue_days(as_of):
        left = line.outstanding_minor or 0
        figures = [
            rounding.shown(Fraction(minor, unit))
            for minor in (left, line.amount_minor or 0, line.paid_minor)
        ]
        text = f"part of {line.duty} due on {line.due_on} that is open on {as_of}"
        working = Working(
            text, f"{figures[0]} {currency}", reckoning=f"{figures[1]} - {figures[2]}"
        )
        yield _Late(left, as_of, (working,))


def _on(
    part: _Late, row: LateInterest, due_on: date, currency: str, unit: int
) -> tuple[Fraction, Working]:
    years = years_between(due_on, part.until, row.day_count)
    rate, figure = Fraction(row.percent_per_year), Fraction(part.minor, unit)
    amount = figure * rate / 100 * years.share
    return amount, Working(
        f"interest on it for {(part.until - due_on).days} days at "
        f"{rounding.shown(rate)} % a year, {row.day_count}",
        f"{rounding.shown(amount)} {currency}",
        reckoning=f"{rounding.shown(figure)} * {rounding.shown(rate)} / 100 * "
        f"({years.reckoning})",
    )


def _standing(line: DueLine) -> tuple[Standing, str]:
    if line.standing is Standing.PROVISIONAL:
        return Standing.PROVISIONAL, f"it is on a provisional {line.duty}"
    if line.outstanding_minor:
        return Standing.PROVISIONAL, "it grows until the rest is paid"
    return Standing.FINAL, ""
