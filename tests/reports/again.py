"""Doing the arithmetic again that a statement of dues prints, from its text alone."""

import re
from collections.abc import Iterator
from fractions import Fraction
from math import ceil

Amount = tuple[str, str, str, Fraction]
"""Shipment, duty with its scheme, payee, and major units of the currency."""

HEAD = re.compile(
    r"(\S+), received \S+ \(entry \d+\): (.*?) to (\S+), (?:no due date|due on \S+)"
)
LINE = re.compile(r" *\d+\. .*: (-?[\d.]+…?)(?: \S+)?(?:  \[entry \d+\])?")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?…?")
ROUNDED = "       by rounded up to the smallest unit of the currency"


def done_again(text: str) -> Iterator[Amount]:
    """Yield every amount that a text explains and that its own arithmetic confirms."""
    for block in text.split("\n\n")[1:]:
        first, *lines = block.splitlines()
        head = HEAD.fullmatch(first)
        if head and any(line == ROUNDED for line in lines):
            yield head[1], head[2], head[3], _Block().work(lines)


class _Block:
    """The lines of one amount, worked through from the first to the last."""

    def __init__(self) -> None:
        self.exact: dict[str, Fraction] = {}
        self.shown = ""

    def work(self, lines: list[str]) -> Fraction:
        """Return the amount of the last line, after checking every line on the way."""
        for line in lines:
            if line.startswith("  open: "):
                self.shown = line.split()[1]
            elif found := LINE.fullmatch(line):
                self.shown = found[1]
            elif line.startswith("       = "):
                self.compare(self.value(line.removeprefix("       = ")), line, lines)
        return self.exact["amount due"]

    def compare(self, value: Fraction, line: str, lines: list[str]) -> None:
        """Check a line against its arithmetic, and keep the exact figure."""
        if lines[lines.index(line) + 1 :][:1] == [ROUNDED]:
            value = Fraction(ceil(value * 100), 100)
            self.exact["amount due"] = value
        if self.shown.endswith("…"):
            least = abs(Fraction(self.shown.removesuffix("…")))
            assert least < abs(value) < least + Fraction(1, 10**9), line
        else:
            assert value == Fraction(self.shown), line
        self.exact[self.shown] = value

    def value(self, sums: str) -> Fraction:
        """Work out a line of arithmetic."""
        for word, choose in (("highest of (", max), ("lowest of (", min)):
            if sums.startswith(word):
                inner = sums.removeprefix(word).removesuffix(")")
                return choose(self.value(part) for part in inner.split(", "))
        code = NUMBER.sub(lambda found: f" number({found[0]!r}) ", sums)
        assert re.fullmatch(r"(?: number\('-?[\d.]+…?'\) |[-+*/() ])+", code), code
        value = eval(code, {"number": self.number})  # noqa: S307 - checked just above
        assert isinstance(value, Fraction)
        return value

    def number(self, text: str) -> Fraction:
        """Return a figure as printed, or what a line that was cut really came to."""
        return self.exact[text] if text.endswith("…") else Fraction(text)
