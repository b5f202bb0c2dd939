"""Labels of lots: what is recorded of a lot, for the sack or the tank that it is in."""

from collections.abc import Iterator, Sequence
from datetime import date

from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import contract_named, opening
from ledger.books.receiving import counts
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, lot_named
from ledger.books.stock import OnHand, stock_of
from ledger.books.trace import whole_g
from ledger.errors import NotFoundError
from ledger.reports.figures import grouped, kg_text
from ledger.reports.label_sheet import Label, Sheet, render_labels


def labels_pdf(
    shelf: Shelf,
    lots: Sequence[str],
    sheet: Sheet,
    *,
    on: date,
    address: str,
    copies: int = 1,
) -> bytes:
    """Return the labels of lots as PDF.

    Args:
        shelf: What is recorded.
        lots: The lots.
        sheet: What they are printed on.
        on: Day of which place and holds are shown.
        address: What the code of a lot begins with, its number following.
        copies: How many of each.

    Raises:
        NotFoundError: A lot is not recorded.
        InputError: There are none, or too many.
    """
    labels = [label_of(shelf, lot, on=on, address=address) for lot in lots]
    maker = opening(shelf).organisation_name
    return render_labels(labels, sheet, maker=maker, copies=copies)


def label_of(shelf: Shelf, lot: str, *, on: date, address: str) -> Label:
    """Return what the label of a lot says.

    Raises:
        NotFoundError: It is not recorded.
    """
    try:
        what = lot_named(shelf, lot, field="lot")
    except EntryRefusedError as error:
        raise NotFoundError(
            f"there is no lot {lot!r}; check its number against the page On hand"
        ) from error
    found = stock_of(shelf, lot, on)
    held = found[0] if found else OnHand(lot, 0)
    parts = _received(shelf, what) if isinstance(what, SourceLot) else _made(what)
    return Label(
        lot=lot,
        mass=f"{grouped(kg_text(whole_g(what)))} kg net",
        place=held.place or "",
        hold=held.hold or "",
        address=f"{address}{lot}",
        **parts,
    )


def _received(shelf: Shelf, what: SourceLot) -> dict[str, str]:
    goods = [what.commodity, what.form, *(["organic"] if what.organic else [])]
    grade = [f"grade {what.grade}"] if what.grade else []
    seller_lot = what.part.seller_lot
    rejected = "REJECTED: " if what.part.decision == "rejected" else ""
    return {
        "what": rejected + ", ".join([*goods, *grade]),
        "origin": _origin(shelf, what),
        "claim": "; ".join(_claims(shelf, what)) or "No claim",
        "came": f"Shipment {what.shipment}, received {what.receipt.occurred_on}",
        "further": f"Seller's lot {seller_lot}" if seller_lot else "",
    }


def _origin(shelf: Shelf, what: SourceLot) -> str:
    region = None
    if what.contract is not None:
        region = contract_named(shelf, what.contract, field="contract").region
    return ", ".join(part for part in (what.origin, region) if part)


def _claims(shelf: Shelf, what: SourceLot) -> Iterator[str]:
    for claim in what.claims:
        if counts(shelf, what, claim):
            yield f"{claim.scheme}, {claim.custody}"
        else:
            yield f"bought as {claim.scheme}, but the claim does not count"


def _made(what: MadeLot) -> dict[str, str]:
    keeps = what.output.best_before
    recipe = [f"recipe {what.output.recipe}"] if what.output.recipe else []
    return {
        "what": ", ".join([what.form, *recipe]),
        "origin": "",
        "claim": "Claim: by the mass balance, made when it is sold",
        "came": f"Batch {what.made.batch}, {what.made.step}, {what.batch.occurred_on}",
        "further": f"Best before {keeps}" if keeps else "",
    }
