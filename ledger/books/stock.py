"""What is on hand on a date: lot by lot, where it lies and how long it keeps."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from ledger.books.effect import Book, Subject, SubjectKind, Tally
from ledger.books.lookup import site_named
from ledger.books.making import held_by
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, lot_named
from ledger.books.trace import recorded_of, whole_g
from ledger.errors import NotFoundError
from ledger.trade.batch import BatchMade, Input
from ledger.trade.grams import to_grams
from ledger.trade.lot import LotMoved, LotWrittenOff
from ledger.trade.record import Record
from ledger.trade.sale import ReturnLine, SaleDispatched, SaleLine, SaleReturned
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.words import Form


@dataclass(frozen=True, slots=True)
class OnHand:
    """What is left of one lot.

    Attributes:
        lot: Lot number.
        grams: Mass on hand.
        form: Form it is in; None where a signed-off period still shows a lot that a
            later correction took out.
        place: Tank, rack or store: where it was last moved to, or put when it was made.
        site: Site it is at.
        since: Day it was received or made.
        hold: Hold under which it may not move, if any.
        best_before: Best-before date on its label, if it has one.
        pieces: Bars or packs on hand, where everything taken from it was counted, or is
            a whole number of pieces by mass.
    """

    lot: str
    grams: int
    form: Form | None = None
    place: str | None = None
    site: str | None = None
    since: date | None = None
    hold: str | None = None
    best_before: date | None = None
    pieces: int | None = None


def stock_on(shelf: Shelf, on: date) -> tuple[OnHand, ...]:
    """Return every lot of which something is on hand when a day is over, by lot number.

    Args:
        shelf: What is recorded.
        on: Trade date; what happened later is left out.
    """
    return tuple(stream_stock(shelf, on))


def stream_stock(shelf: Shelf, on: date) -> Iterator[OnHand]:
    """Yield every lot of which something is on hand when a day is over, by lot number."""
    for tally, grams in shelf.standing(Book.STOCK, on):
        yield on_hand(shelf, tally.key, grams, on)


def stock_of(shelf: Shelf, lot: str, on: date) -> tuple[OnHand, ...]:
    """Return what is on hand of one lot when a day is over; nothing where none is.

    Raises:
        NotFoundError: No lot of that number is recorded.
    """
    if shelf.introducer(Subject(SubjectKind.LOT, lot)) is None:
        raise NotFoundError(
            f"no lot {lot} is recorded; check the number, or list the lots with the "
            "stock command"
        )
    grams = shelf.run(Tally.stock(lot), until=on).closing_g
    return (on_hand(shelf, lot, grams, on),) if grams else ()


def on_hand(shelf: Shelf, lot: str, grams: int, on: date) -> OnHand:
    """Return where a lot is on a date, of which some grams are left."""
    if shelf.introducer(Subject(SubjectKind.LOT, lot)) is None:
        return OnHand(lot, grams)
    what = lot_named(shelf, lot, field="lot")
    place, site = _place_and_site(shelf, what, on)
    return OnHand(
        lot=lot,
        grams=grams,
        form=what.form,
        place=place,
        site=site,
        since=recorded_of(what).occurred_on,
        hold=held_by(shelf, lot, on),
        best_before=what.output.best_before if isinstance(what, MadeLot) else None,
        pieces=_pieces(shelf, what, on),
    )


def grams_by_form(lots: Iterable[OnHand]) -> dict[Form, int]:
    """Return grams on hand by form, in the order in which forms are reached."""
    found: dict[Form, int] = {}
    for held in lots:
        if held.form is not None:
            found[held.form] = found.get(held.form, 0) + held.grams
    return {form: found[form] for form in Form if form in found}


def grams_by_form_and_place(
    lots: Iterable[OnHand],
) -> dict[tuple[Form, str], tuple[int, int]]:
    """Return grams on hand and number of lots by form and place, in the order of forms.

    A lot of which no place is known lies at "".
    """
    found: dict[tuple[Form, str], tuple[int, int]] = {}
    for held in lots:
        if held.form is not None:
            key = held.form, held.place or ""
            grams, count = found.get(key, (0, 0))
            found[key] = grams + held.grams, count + 1
    order = list(Form)
    return dict(
        sorted(found.items(), key=lambda item: (order.index(item[0][0]), item[0][1]))
    )


def _place_and_site(
    shelf: Shelf, what: SourceLot | MadeLot, on: date
) -> tuple[str | None, str]:
    made = recorded_of(what).record
    given = made.site if isinstance(made, BatchMade | ShipmentReceived) else None
    site = site_named(shelf, given, field="site")
    place = (what.output if isinstance(what, MadeLot) else what.part).place
    for move in _moves(shelf, what.lot, on):
        place, site = move.to_place, move.to_site or site
    return place, site


def _moves(shelf: Shelf, lot: str, on: date) -> Iterator[LotMoved]:
    """Yield the moves of a lot up to a day, by date and within one as recorded."""
    found = shelf.about(Subject(SubjectKind.LOT, lot), "lot.moved")
    for recorded in sorted(found, key=lambda move: (move.occurred_on, move.slot)):
        if recorded.occurred_on <= on and isinstance(recorded.record, LotMoved):
            yield recorded.record


def _pieces(shelf: Shelf, what: SourceLot | MadeLot, on: date) -> int | None:
    if not isinstance(what, MadeLot) or what.output.pieces is None:
        return None
    left, whole = what.output.pieces, what.output.pieces
    for found in shelf.about(Subject(SubjectKind.LOT, what.lot)):
        if found.occurred_on > on:
            continue
        for grams, counted in _changes(found.record, what.lot):
            pieces, rest = divmod(abs(grams) * whole, whole_g(what))
            if counted is None and rest:
                return None
            taken = pieces if counted is None else counted
            left += taken if grams > 0 else -taken
    return left


def _changes(record: Record, lot: str) -> Iterator[tuple[int, int | None]]:
    """Yield grams that a record takes from a lot or gives back, and pieces if counted."""
    if isinstance(record, LotWrittenOff):
        yield -to_grams(record.mass_kg), None
    sign = 1 if isinstance(record, SaleReturned) else -1
    for part in _parts_of(record):
        if part.lot == lot:
            counted = None if isinstance(part, Input) else part.pieces
            yield sign * to_grams(part.mass_kg), counted


def _parts_of(record: Record) -> tuple[Input | SaleLine | ReturnLine, ...]:
    if isinstance(record, BatchMade):
        return record.inputs
    if isinstance(record, SaleDispatched | SaleReturned):
        return record.lines
    return ()
