"""The sums of a batch that is still being written down: in, out, lost, and what is left."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.trade.grams import to_grams
from ledger.trade.unit import parse_mass


@dataclass(frozen=True, slots=True)
class Sums:
    """Masses of a batch so far, in grams; what cannot be read yet is left out.

    Attributes:
        taken_g: Grams that go in.
        given_g: Grams that come out.
        lost_g: Grams that are declared lost.
    """

    taken_g: int
    given_g: int
    lost_g: int

    @property
    def excess_g(self) -> int:
        """Grams that go in and neither come out nor are lost; below 0 if from nowhere."""
        return self.taken_g - self.given_g - self.lost_g

    @property
    def ratio(self) -> Fraction | None:
        """Output over input; None while nothing goes in."""
        return Fraction(self.given_g, self.taken_g) if self.taken_g else None


def sums_of(body: Mapping[str, JsonValue]) -> Sums:
    """Return the sums of a batch as typed, masses under `mass_kg` or, with unit, `mass`."""
    taken, given, lost = (
        sum(_masses(body.get(name))) for name in ("inputs", "outputs", "losses")
    )
    return Sums(taken, given, lost)


def _masses(rows: JsonValue) -> Iterator[int]:
    for row in rows if isinstance(rows, list) else ():
        if not isinstance(row, dict):
            continue
        text = row.get("mass") or f"{row.get('mass_kg', '')} kg"
        try:
            yield to_grams(parse_mass(str(text)))
        except InputError:
            continue
