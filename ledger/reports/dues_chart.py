"""What is outstanding by age, drawn: one bar for each stretch of days overdue."""

from collections.abc import Iterable
from datetime import date
from typing import Final

from ledger.books.dues import ContractDues
from ledger.reports.axis import Span, ticks
from ledger.reports.figures import grouped, money_text
from ledger.reports.svg import Drawing, Sheet
from ledger.trade.money import minor_digits

AGES: Final = (
    ("no date", -1),
    ("not yet due", 0),
    ("1 to 30 days late", 30),
    ("31 to 60 days late", 60),
    ("61 to 90 days late", 90),
    ("over 90 days late", None),
)
"""Stretches of days overdue, by their last day (common practice, no source)."""

WIDTH: Final = 7000
_LEFT, _RIGHT, _TOP = 1500, 5900, 330
_BAR, _GAP = 170, 110
_SMALL: Final = 100


def outstanding_by_age(found: Iterable[ContractDues], currency: str) -> dict[str, int]:
    """Return minor units outstanding in one currency, by age; every age is there."""
    sums = {name: 0 for name, _ in AGES}
    for dues in found:
        for line in dues.lines:
            if line.currency == currency and line.outstanding_minor:
                sums[_age(line.due_on, dues.as_of)] += line.outstanding_minor
    return sums


def _age(due_on: date | None, as_of: date) -> str:
    if due_on is None:
        return AGES[0][0]
    overdue = max(0, (as_of - due_on).days)
    return next(name for name, last in AGES[1:] if last is None or overdue <= last)


def dues_chart(found: Iterable[ContractDues], currency: str) -> Drawing:
    """Return what is outstanding in one currency, by age."""
    sums = outstanding_by_age(found, currency)
    shown = {name: minor for name, minor in sums.items() if minor or name != "no date"}
    bottom = _TOP + len(shown) * (_BAR + _GAP)
    scale = 10 ** minor_digits(currency)
    levels = ticks(0, -(-max(sums.values()) // scale))
    along = Span(0, levels[-1] * scale, _LEFT, _RIGHT)
    sheet = Sheet(
        WIDTH,
        bottom + 260,
        title=f"Outstanding to growers by age, {currency}",
        description="; ".join(
            f"{name}: {money_text(minor, currency)}" for name, minor in shown.items()
        ),
    )
    title = f"Outstanding to growers by age, {currency}"
    sheet.text((0, 120), title, weight="bold")
    for level in levels:
        x = along.at(level * scale)
        sheet.line((x, _TOP - 60), (x, bottom), width=4, ink="#999999")
        words = grouped(str(level))
        sheet.text((x, bottom + 150), words, size=_SMALL, anchor="middle")
    for place, (name, minor) in enumerate(shown.items()):
        y = _TOP + place * (_BAR + _GAP)
        sheet.text((_LEFT - 80, y + 120), name, size=_SMALL, anchor="end")
        end = along.at(minor)
        if minor:
            fill = "white" if name == "not yet due" else "#bbbbbb"
            sheet.box((_LEFT, y), (end - _LEFT, _BAR), fill=fill)
        words = grouped(money_text(minor, currency))
        sheet.text((end + 60, y + 120), words, size=_SMALL)
    sheet.line((_LEFT, _TOP - 60), (_LEFT, bottom), width=16)
    return sheet.finished()
