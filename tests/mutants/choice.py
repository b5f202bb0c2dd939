"""Which mutants are tried: all of the modules that carry laws, some of the rest."""

import random
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final, NamedTuple

LAWS: Final = (
    "account_rule",
    "ageing",
    "balance",
    "below_floor",
    "certified",
    "closing",
    "conversion",
    "custody",
    "day_count",
    "floor",
    "hindsight",
    "interest",
    "joint",
    "judge",
    "lapsing",
    "making",
    "market",
    "measured",
    "minimum",
    "paid_weight",
    "parting",
    "portion",
    "price",
    "receiving",
    "rolling",
    "rounding",
    "running",
    "selling",
    "trace",
    "transferring",
)
"""Modules of ledger/books whose every mutant is tried."""
SEED: Final = 20261128
SAMPLE: Final = 200
"""How many mutants of the other modules are tried, drawn with the seed."""


class Mutant(NamedTuple):
    """One change to one function of the books.

    Attributes:
        name: Module, function and number, as the tool names it.
        module: Module of ledger/books.
        line: Line of the written file at which the changed function begins.
        end: Its last line.
        function: Name of the function, without module or number.
        was: Lines of the function that are changed.
        now: What they are changed to.
    """

    name: str
    module: str
    line: int
    end: int
    function: str
    was: str
    now: str


def chosen(mutants: Iterable[Mutant]) -> Sequence[Mutant]:
    """Return the mutants that are tried: those of the laws by name, then the sample.

    The sample is the beginning of the rest, shuffled; a smaller one begins alike.
    """
    found = sorted(mutants)
    laws = [one for one in found if one.module in LAWS]
    rest = [one for one in found if one.module not in LAWS]
    random.Random(SEED).shuffle(rest)  # noqa: S311 - anybody may draw it again
    return [*laws, *rest[:SAMPLE]]


def books_in(root: Path) -> list[Path]:
    """Return the modules of the books in a checkout or a copy of one."""
    return sorted((root / "ledger" / "books").glob("[a-z]*.py"))
