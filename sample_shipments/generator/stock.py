"""What is left of each lot, as the files add up; the books check it again."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date


@dataclass(slots=True)
class Stock:
    """Masses that came into lots and left them, in grams."""

    _moved: defaultdict[str, list[tuple[date, int]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def move(self, lot: str, on: date, grams: int) -> None:
        """Add to a lot, or take from it what is given as negative."""
        self._moved[lot].append((on, grams))

    def left(self, lot: str, on: date = date.max) -> int:
        """Return what is left of a lot at the end of a day."""
        return sum(grams for day, grams in self._moved[lot] if day <= on)

    def free(self, lot: str, on: date) -> int:
        """Return what can be taken from a lot on a day without missing it later."""
        later = {day for day, _ in self._moved[lot] if day > on}
        return min(self.left(lot, day) for day in {on, *later})

    def draw(self, lots: Iterable[str], on: date, grams: int) -> list[tuple[str, int]]:
        """Take a mass from lots, oldest first, and return what each gave.

        Raises:
            ValueError: They do not hold that much on that day.
        """
        taken = []
        for lot in lots:
            part = min(grams, self.free(lot, on))
            if part > 0:
                self.move(lot, on, -part)
                taken.append((lot, part))
                grams -= part
            if not grams:
                return taken
        raise ValueError(f"{grams} g too little in {lots} on {on}")
