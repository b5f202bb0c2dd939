"""The making plan: when a run of beans is started, for which product, and oddities."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Cycle:
    """One run of beans through the factory, from roasting to the sold form.

    Attributes:
        number: Two digits; the end of every lot number made in it.
        start: Day of roasting.
        product: Code of the product.
        beans_g: Mass of beans taken.
        conche_hours: Hours in the conche.
        nibs_kept_g: Nibs kept back for sale.
        rework: Lots melted down again in the conche.
        bloomed_g: Bars found bloomed at wrapping, kept as a lot for rework.
        exit_f: Temperature at which chocolate left the temperer, degrees Fahrenheit.
        missed_tasting: Whether one tasting was missed in the night.
        two_runs: Whether the tank was moulded in two runs, a week apart.
    """

    number: str
    start: date
    product: str
    beans_g: int
    conche_hours: int
    nibs_kept_g: int = 0
    rework: tuple[str, ...] = ()
    bloomed_g: int = 0
    exit_f: int = 90
    missed_tasting: bool = False
    two_runs: bool = False


RETURNED_LOT = "D70-05a"
"""The lot of bars that came back from a customer and were melted down again."""
RETURNED_BARS = 60

# number, start, product, beans in kg, conche hours, nibs kept in kg, oddities
_PLAN = """
01 2024-10-22 D70 620 36 20
02 2024-11-05 C66 640 30 0
03 2024-11-19 D70 640 42 20 two-runs
04 2024-12-06 D70 680 44 0
05 2025-01-07 D70 600 40 25
06 2025-01-27 M45 320 26 0
07 2025-03-06 O72 740 54 0 two-runs
08 2025-03-17 C66 700 28 0
09 2025-03-31 D70 700 76 25 rework=RETURNED two-runs
10 2025-04-14 C66 700 32 0
11 2025-04-30 D70 700 48 0
12 2025-05-19 C66 720 30 20
13 2025-06-12 D70 700 38 20 exit=95 bloomed=38500
14 2025-06-30 C66 700 28 0
15 2025-07-21 D70 720 46 0 rework=RW-13a two-runs
16 2025-08-11 C66 700 34 25
17 2025-09-03 D70 660 40 0
18 2025-10-06 O72 700 58 0
19 2025-11-05 D70 700 44 25 bloomed=11900
20 2025-11-24 C66 680 30 0
21 2025-12-09 D70 720 36 0 rework=RW-19a
22 2026-01-06 C66 700 32 20 missed-tasting
23 2026-01-19 O72 760 56 0 two-runs
24 2026-02-04 D70 660 48 25
25 2026-03-10 C66 720 30 0
26 2026-04-08 D70 720 42 20 two-runs
27 2026-05-06 C66 600 28 0
28 2026-05-19 O72 770 60 0 bloomed=9800
29 2026-06-10 D70 720 40 25
30 2026-06-29 C66 740 32 0
31 2026-07-15 M45 300 24 0
32 2026-08-05 C66 540 30 25
33 2026-08-27 D70 450 44 0
"""


def cycles() -> list[Cycle]:
    """Return the plan."""
    return [_cycle(*line.split()) for line in _PLAN.strip().splitlines()]


def _cycle(
    number: str, start: str, product: str, beans: str, hours: str, nibs: str, *more: str
) -> Cycle:
    told = dict(word.partition("=")[::2] for word in more)
    rework = told.get("rework", "").replace("RETURNED", RETURNED_LOT)
    return Cycle(
        number=number,
        start=date.fromisoformat(start),
        product=product,
        beans_g=int(beans) * 1000,
        conche_hours=int(hours),
        nibs_kept_g=int(nibs) * 1000,
        rework=(rework,) if rework else (),
        bloomed_g=int(told.get("bloomed", "0")),
        exit_f=int(told.get("exit", "90")),
        missed_tasting="missed-tasting" in told,
        two_runs="two-runs" in told,
    )
