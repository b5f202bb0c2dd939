"""What happens to a lot outside a batch: moved, counted, written off, held, let go."""

from collections.abc import Mapping
from datetime import date
from itertools import count
from typing import Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.books.stock import stock_of
from ledger.errors import NotFoundError
from ledger.intake.scanned import scanned_lot
from ledger.reports.figures import kg_text
from ledger.trade.words import LossReason
from ledger.web.access import COMPLIANCE, FLOOR
from ledger.web.asked import Asked
from ledger.web.entry_fields import Field, Group
from ledger.web.entry_page import Body, EntryForm, Worked
from ledger.web.floor_known import holds, lots_on_hand, places, told_of
from ledger.web.known import sites, words
from ledger.web.page import Page

FORM: Final = "floor_form.html"
_LOT_HINT: Final = "Scan the label, or type the number."
_MASS_HINT: Final = "In kg, or with a unit: 27.5 lb."


def _with_lot(body: Body) -> Body:
    """Return a body whose lot is the number in what was scanned."""
    lot = body.get("lot")
    return {**body, "lot": scanned_lot(lot)} if isinstance(lot, str) else body


def _with_lots(body: Body) -> Body:
    lots = body.get("lots")
    if not isinstance(lots, list):
        return body
    return {**body, "lots": [scanned_lot(str(lot)) for lot in lots]}


def _to_stock(_body: Body) -> str:
    return "/stock"


def _to_holds(_body: Body) -> str:
    return "/holds"


def _of_lot(asked: Asked, on: date, body: Body) -> Worked:
    """Return what the lot is and where it lies, to be read before saving."""
    return of_lots(asked, on, [str(body.get("lot", ""))])


def _of_lots(asked: Asked, on: date, body: Body) -> Worked:
    lots = body.get("lots")
    told = of_lots(asked, on, list(map(str, lots)) if isinstance(lots, list) else [])
    says = asked.tongue.says
    if not told:
        return ()
    return (*told, (says("From then on"), says("no entry may move them")))


def of_lots(asked: Asked, on: date, lots: list[str]) -> Worked:
    """Return what some lots are and where they lie when a day is over."""
    found: list[tuple[str, str]] = []
    with asked.books() as books:
        for lot in filter(None, lots):
            try:
                held = stock_of(books.shelf, lot, on)
            except NotFoundError:
                found.append(
                    (lot, asked.tongue.says("no lot of this number is recorded"))
                )
                continue
            told = " · ".join(map(asked.tongue.says, told_of(held[0]))) if held else ""
            found.append((lot, told or asked.tongue.says("nothing is left of it")))
    return tuple(found)


def _counted(asked: Asked, on: date, body: Body) -> Worked:
    """Return what the book says beside what was found."""
    told = _of_lot(asked, on, body)
    lot = str(body.get("lot", ""))
    with asked.books() as books:
        try:
            held = stock_of(books.shelf, lot, on)
        except NotFoundError:
            return told
    book = kg_text(held[0].grams if held else 0)
    says = asked.tongue.says
    return (*told, (says("By the book"), f"{asked.tongue.figure(book)} kg"))


def _first_of_count(asked: Asked, _shelf: Shelf) -> Mapping[str, str]:
    return {"counted_by": asked.person.name}


def _first_of_hold(_asked: Asked, shelf: Shelf) -> Mapping[str, str]:
    """Offer a name that no hold has yet."""
    names = (f"H-{number:02}" for number in count(1))
    free = (
        name
        for name in names
        if shelf.introducer(Subject(SubjectKind.HOLD, name)) is None
    )
    return {"hold": next(free)}


def _lot_field() -> Field:
    return Field(
        "lot", "Lot", "scan", hint=_LOT_HINT, required=True, choices=lots_on_hand
    )


MOVE: Final = EntryForm(
    kind="lot.moved",
    address="/move-lot",
    title="Move a lot",
    day="Day",
    groups=(
        Group(
            "The lot",
            (
                _lot_field(),
                Field("to_place", "To place", "pick", required=True, choices=places),
            ),
            further=(Field("to_site", "To site, if another", "choice", choices=sites),),
        ),
    ),
    lead="The whole lot is moved. To move part of one, split it first: log a batch of "
    "the step split.",
    done=_to_stock,
    completed=_with_lot,
    worked_out=_of_lot,
    template=FORM,
)

COUNT: Final = EntryForm(
    kind="lot.counted",
    address="/count-lot",
    title="Count a lot",
    day="Day",
    groups=(
        Group(
            "The lot",
            (
                _lot_field(),
                Field("found", "Mass found", hint=_MASS_HINT, required=True, unit="kg"),
                Field("pieces", "Pieces found"),
                Field("counted_by", "Counted by", required=True),
                Field("place", "Where", "pick", choices=places),
            ),
        ),
    ),
    lead="A count changes nothing by itself: what is missing is written off by an entry "
    "of its own.",
    done=_to_stock,
    first=_first_of_count,
    completed=_with_lot,
    worked_out=_counted,
    template=FORM,
)

WRITE_OFF: Final = EntryForm(
    kind="lot.written_off",
    address="/write-off-lot",
    title="Write off mass of a lot",
    day="Day",
    groups=(
        Group(
            "The lot",
            (
                _lot_field(),
                Field(
                    "mass",
                    "Mass that is gone",
                    hint=_MASS_HINT,
                    required=True,
                    unit="kg",
                ),
                Field(
                    "reason",
                    "Why",
                    "choice",
                    required=True,
                    choices=words(LossReason),
                ),
                Field("note", "What happened, and the paper that shows it"),
            ),
        ),
    ),
    lead="What is written off can no longer be sold, so its certified content leaves the "
    "accounts too.",
    done=_to_stock,
    completed=_with_lot,
    worked_out=_of_lot,
    template=FORM,
)

HOLD: Final = EntryForm(
    kind="hold.placed",
    address="/place-hold",
    title="Place a hold",
    day="Day",
    groups=(
        Group(
            "The hold",
            (
                Field("hold", "Name of the hold", required=True),
                Field("reason", "Why", required=True),
            ),
        ),
        Group(
            "Lots that may not move",
            (Field("lots.*", "Lot", "scan", choices=lots_on_hand),),
            rows=3,
        ),
    ),
    caution="If food may be unsafe, stop it first and ask afterwards: hold it, set it "
    "apart with a label that everybody sees, and tell whoever answers for food safety. "
    "What must be told to an authority, and when, local law says. A hold here stops "
    "entries, not people.",
    done=_to_holds,
    first=_first_of_hold,
    completed=_with_lots,
    worked_out=_of_lots,
    template=FORM,
)

RELEASE: Final = EntryForm(
    kind="hold.released",
    address="/release-hold",
    title="Release a hold",
    day="Day",
    groups=(
        Group(
            "The hold",
            (
                Field("hold", "Hold", "choice", required=True, choices=holds),
                Field(
                    "reason",
                    "Why it may move again, and who decided",
                    required=True,
                ),
            ),
        ),
    ),
    caution="Release only what somebody who may decide about food safety has let go, and "
    "name them.",
    done=_to_holds,
    template=FORM,
)

PAGES: Final[tuple[Page, ...]] = (
    *MOVE.pages(FLOOR),
    *COUNT.pages(FLOOR),
    *WRITE_OFF.pages(FLOOR),
    *HOLD.pages(FLOOR),
    *RELEASE.pages(COMPLIANCE),
)
