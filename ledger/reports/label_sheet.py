"""Labels of lots as a PDF to print: a code to scan, and the same for people to read."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from ledger.errors import InputError
from ledger.reports.page import render_html, render_pdf
from ledger.reports.svg import Drawing

MOST_LABELS: Final = 200
"""On one PDF; it takes seconds to make."""
CAUTION: Final = (
    "The code holds an address with the number of the lot, and nothing else. It proves "
    "nothing by itself: compare the label with the record before you use the goods."
)


class Sheet(StrEnum):
    """On what labels are printed."""

    EIGHT = "8 on A4"
    """Two columns of four, 99 by 67 mm each; common practice, no source."""
    ONE = "one on each page, 100 x 70 mm"
    """For a printer of labels on a roll; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a label of one lot says.

    Attributes:
        lot: Lot number.
        what: What it is, such as "cocoa, bean, organic".
        origin: Country of origin with the region, where known.
        claim: Scheme and custody model of each claim, or that there is none.
        mass: Net mass with its unit.
        came: Where it came from: shipment and day, or batch and day.
        place: Where it is stored.
        further: Anything else, such as the seller's lot number or the best-before date.
        hold: Hold under which it may not move; empty where none is.
        address: What the code holds.
    """

    lot: str
    what: str
    origin: str
    claim: str
    mass: str
    came: str
    place: str
    further: str
    hold: str
    address: str

    @property
    def code(self) -> Drawing:
        """The address as a QR code (ISO/IEC 18004), level M of error correction."""
        import segno  # noqa: PLC0415 - only for labels

        made = segno.make(self.address, error="m", micro=False)
        svg = made.svg_inline(scale=1, border=4, omitsize=True)
        return Drawing(title=self.address, description=self.address, svg=svg)


def render_labels(
    labels: Sequence[Label], sheet: Sheet, *, maker: str, copies: int = 1
) -> bytes:
    """Return labels as PDF.

    Args:
        labels: One for each lot.
        sheet: What they are printed on.
        maker: Name of the maker.
        copies: How many of each.

    Raises:
        InputError: There are none, or too many.
    """
    many = len(labels) * copies
    if not 1 <= many <= MOST_LABELS:
        raise InputError(
            f"{many} labels are asked for; choose lots and copies so that there are 1 to "
            f"{MOST_LABELS}"
        )
    html = render_html(
        "labels.html",
        labels=[label for label in labels for _ in range(copies)],
        maker=maker,
        caution=CAUTION,
        sheet=sheet.name.lower(),
    )
    return render_pdf(html, style="labels.css")
