"""The two invented market series and the exchange rate: smooth, whole figures."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from sample_shipments.generator.paper import File, csv_file
from sample_shipments.generator.workday import is_workday, month_of, months, workdays

USD_MARKET = "beans-usd"
GBP_MARKET = "beans-gbp"
SOURCE = "invented for this scenario"

_Anchor = tuple[str, int]
_USD_PER_TONNE: Sequence[_Anchor] = (
    ("2024-10-01", 5380),
    ("2024-12-16", 6240),
    ("2025-02-10", 6780),
    ("2025-04-15", 5900),
    ("2025-07-01", 5120),
    ("2025-09-15", 4480),
    ("2025-12-01", 4120),
    ("2026-02-16", 3860),
    ("2026-05-04", 4240),
    ("2026-07-15", 4780),
    ("2026-09-30", 5060),
)
_USD_PER_GBP: Sequence[_Anchor] = (  # in ten-thousandths
    ("2024-10-01", 13050),
    ("2025-01-15", 12340),
    ("2025-07-01", 13480),
    ("2025-11-14", 13120),
    ("2026-03-02", 13380),
    ("2026-09-30", 13210),
)
_RIPPLE = (0, 9, 21, 30, 26, 12, -4, -17, -28, -31, -22, -8, 5, 16, 11, 3, -6)
_SWELL = (
    *(0, 6, 13, 21, 30, 38, 44, 47, 45, 39, 31, 22, 12, 3, -7),
    *(-17, -26, -35, -42, -46, -48, -45, -39, -31, -22, -13, -7, -3, -1),
)
_GBP_OVER_PARITY = 48


def usd_per_tonne(day: date) -> int:
    """Return the level of the dollar market on a trading day, USD a tonne."""
    place = day.toordinal()
    return (
        _between(_USD_PER_TONNE, day)
        + _RIPPLE[place % len(_RIPPLE)]
        + _SWELL[place % len(_SWELL)]
    )


def usd_per_gbp(day: date) -> int:
    """Return dollars for a pound on a trading day, in ten-thousandths."""
    return (
        _between(_USD_PER_GBP, day) + 2 * _RIPPLE[(day.toordinal() + 5) % len(_RIPPLE)]
    )


def gbp_per_tonne(day: date) -> int:
    """Return the level of the sterling market on a trading day, GBP a tonne."""
    parity = usd_per_tonne(day) * 10000 // usd_per_gbp(day)
    ripple = _RIPPLE[(day.toordinal() + 8) % len(_RIPPLE)] // 2
    return parity + _GBP_OVER_PARITY + ripple


def last_trading_day(day: date) -> date:
    """Return the day itself, or the last trading day before it."""
    while not is_workday(day):
        day -= timedelta(days=1)
    return day


def files() -> list[File]:
    """Return one file a month of each series and of the exchange rate."""
    written = []
    for month in months():
        days = [day for day in workdays() if month_of(day) == month]
        for market, unit in ((USD_MARKET, "USD/t"), (GBP_MARKET, "GBP/t")):
            level = usd_per_tonne if market == USD_MARKET else gbp_per_tonne
            rows = [
                {
                    "on": str(day),
                    "market": market,
                    "unit": unit,
                    "source": SOURCE,
                    "level": f"{level(day)}.00",
                }
                for day in days
            ]
            path = f"{month}/1-market/quotes-{market}-{month}.csv"
            written.append(csv_file(path, rows, names=[f"quotes {market} {month}"]))
        rates = [
            {
                "on": str(day),
                "base": "GBP",
                "to": "USD",
                "source": SOURCE,
                "rate": f"{usd_per_gbp(day) // 10000}.{usd_per_gbp(day) % 10000:04d}",
            }
            for day in days
        ]
        path = f"{month}/1-market/rates-gbp-usd-{month}.csv"
        written.append(csv_file(path, rates, names=[f"rates {month}"]))
    return written


def _between(anchors: Sequence[_Anchor], day: date) -> int:
    known = [(date.fromisoformat(on), level) for on, level in anchors]
    for (left, low), (right, high) in pairwise(known):
        if left <= day <= right:
            return low + (high - low) * (day - left).days // (right - left).days
    raise ValueError(day)
