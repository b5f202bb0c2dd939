"""Doing the arithmetic of masses and shares again, from printed text alone."""

import re
from collections.abc import Callable
from fractions import Fraction
from itertools import takewhile
from math import ceil, floor

LINE = re.compile(
    r" *\d+\. (?:\[([^\]]+)\] )?(.*): (\(.*\)|\S+)(?: kg)?(?:  \[entry \d+\])?"
)
FIGURE = re.compile(r"-?\d+(?:\.\d+)?…?")
TOKEN = re.compile(
    r"\s*(?:(\[[^\]]+\])|(\d+(?:\.\d+)?…?)|(highest of|lowest of)|([-+*/(),]))"
)
CHOICES: dict[str, Callable[[list[Fraction]], Fraction]] = {
    "highest of": max,
    "lowest of": min,
    "(": max,
}
STANDING = re.compile(r"  standing: (-?[\d.]+) kg")
MOVED = re.compile(r"  moved: ([-+][\d.]+) kg")
TITLED = re.compile(r"(?:opening|closing): (-?[\d.]+) kg")


class Sums:
    """Lines of arithmetic, worked through from the first to the last.

    Figures are taken from the text; one that was cut, or a name in square brackets,
    stands for what its line came to.
    """

    def __init__(self) -> None:
        self.exact: dict[str, Fraction] = {}
        self.last = Fraction(0)

    def work(self, lines: list[str]) -> Fraction:
        """Return what the last line comes to, after checking every line on the way."""
        for place, line in enumerate(lines):
            if found := LINE.fullmatch(line):
                name, _, figure = found.groups()
                rest = lines[place + 1 :]
                below = takewhile(lambda text: text.startswith(" " * 7), rest)
                self.line(name, figure, list(below))
        return self.last

    def line(self, name: str | None, figure: str, below: list[str]) -> None:
        """Take in one line: its figure, and the arithmetic and rule printed below it."""
        if figure.startswith("("):
            figure = str(evaluate(figure, {}))
        elif not FIGURE.fullmatch(figure):
            return
        sums = [text.strip()[2:] for text in below if text.strip().startswith("= ")]
        value = evaluate(sums[0], self.exact) if sums else Fraction(figure)
        if any("rounded down to the gram" in text for text in below):
            value = Fraction(floor(value * 1000), 1000)
        if any("rounded up to the gram" in text for text in below):
            value = Fraction(ceil(value * 1000), 1000)
        if figure.endswith("…"):
            least = Fraction(figure.removesuffix("…"))
            assert least < value < least + Fraction(1, 10**9), (figure, value)
            self.exact[figure] = value
        else:
            assert value == Fraction(figure), (figure, value, below)
        if name:
            self.exact[f"[{name}]"] = value
        self.last = value


def evaluate(text: str, exact: dict[str, Fraction]) -> Fraction:
    """Return what a line of arithmetic comes to, in the signs of a spreadsheet."""
    tokens, place = [], 0
    while place < len(text):
        found = TOKEN.match(text, place)
        assert found, text[place:]
        tokens.append(found[0].strip())
        place = found.end()
    value = _sum(tokens, exact)
    assert not tokens, tokens
    return value


def _sum(tokens: list[str], exact: dict[str, Fraction]) -> Fraction:
    value = _product(tokens, exact)
    while tokens and tokens[0] in {"+", "-"}:
        sign = tokens.pop(0)
        term = _product(tokens, exact)
        value = value + term if sign == "+" else value - term
    return value


def _product(tokens: list[str], exact: dict[str, Fraction]) -> Fraction:
    value = _one(tokens, exact)
    while tokens and tokens[0] in {"*", "/"}:
        sign = tokens.pop(0)
        factor = _one(tokens, exact)
        value = value * factor if sign == "*" else value / factor
    return value


def _one(tokens: list[str], exact: dict[str, Fraction]) -> Fraction:
    first = tokens.pop(0)
    if first == "-":
        return -_one(tokens, exact)
    if first not in CHOICES:
        return exact[first] if first in exact else Fraction(first)
    if first != "(":
        assert tokens.pop(0) == "("
    values = [_sum(tokens, exact)]
    while tokens[0] == ",":
        tokens.pop(0)
        values.append(_sum(tokens, exact))
    assert tokens.pop(0) == ")"
    return CHOICES[first](values)


def total_again(text: str) -> Fraction:
    """Return the closing of an account or a stock, after doing every line again."""
    head, *blocks = text.rstrip("\n").split("\n\n")
    opening = TITLED.fullmatch(head.splitlines()[-1])
    assert opening
    standing = Fraction(opening[1])
    for block in blocks[:-1]:
        _, *lines = block.splitlines()
        mass = Sums().work(lines)
        [moved] = [Fraction(m[1]) for line in lines if (m := MOVED.fullmatch(line))]
        assert abs(moved) == mass, block
        [stands] = [Fraction(m[1]) for line in lines if (m := STANDING.fullmatch(line))]
        standing += moved
        assert standing == evaluate(lines[-1].strip()[2:], {}) == stands, block
    closing = TITLED.fullmatch(blocks[-1])
    assert closing
    assert Fraction(closing[1]) == standing
    return standing


def share_again(text: str) -> tuple[Fraction, Fraction]:
    """Return a share and its mass in kilograms, after doing every line again."""
    _, block = text.rstrip("\n").split("\n\n")
    lines = block.splitlines()
    sums = Sums()
    mass = sums.work(lines)
    percent, kilograms = re.findall(r"[\d.]+", lines[-1].partition(": ")[2])
    asked = re.search(r"mass of it, of ([\d.]+) kg", block)
    assert asked
    share = mass / Fraction(asked[1])
    assert abs(share * 100 - Fraction(percent)) <= Fraction(1, 20_000)
    assert abs(mass - Fraction(kilograms)) <= Fraction(1, 2_000)
    return share, mass
