"""The arithmetic behind a figure, line by line, so that a reader can do it again."""

from dataclasses import dataclass
from typing import Final

from ledger.books.finding import Finding, warning
from ledger.errors import LedgerError

ROUNDED_UP: Final = "rounded up to the smallest unit of the currency"
"""Rule of the last line of every amount that is owed."""
CREDITED: Final = "rounded down to the gram"
"""Rule of a mass that is added to an account."""
DRAWN: Final = "rounded up to the gram"
"""Rule of a mass that is taken from an account."""


@dataclass(frozen=True, slots=True)
class Working:
    """One line of the arithmetic.

    Attributes:
        text: What the figure is, in words. It may begin with a name in square brackets,
            which stands for the exact figure in the reckoning of later lines.
        figure: The figure with its unit, exact unless it ends in "…".
        rule: Document and clause, or rule of the books, that it comes from; empty where
            it is what a person recorded.
        entry: Sequence number of the entry it stands in, where it stands in one.
        reckoning: How it follows from figures above it, such as "2250.00 + 200.00", in
            the signs of a spreadsheet; empty where it is what was recorded.
    """

    text: str
    figure: str
    rule: str = ""
    entry: int | None = None
    reckoning: str = ""


class NotComputableError(LedgerError):
    """A figure is missing, so what rests on it has no figure either.

    It never leaves the books: a report shows its finding in the place of the figure.
    """

    def __init__(self, rule: str, message: str, *, is_hidden: bool = False) -> None:
        """Keep the reason.

        Args:
            rule: Stable name of the rule.
            message: One sentence: what is missing, and the way out.
            is_hidden: Whether it is recorded, but sealed from this reader.
        """
        self.finding: Finding = warning(rule, "", message)
        self.is_hidden = is_hidden
        super().__init__(message)
