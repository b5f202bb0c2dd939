"""What a batch does, and what happens to lots outside batches."""

from datetime import date

from ledger.books.certified import certified_content_g
from ledger.books.effect import (
    Cause,
    Edge,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import refuse
from ledger.books.lookup import expect, recipe_named, require, site_named
from ledger.books.measured import measured_in
from ledger.books.parting import parting_for
from ledger.books.rounding import drawn
from ledger.books.shelf import Shelf
from ledger.books.source import lot_named
from ledger.trade.batch import BatchMade, Output
from ledger.trade.grams import to_grams
from ledger.trade.lot import (
    HoldPlaced,
    HoldReleased,
    LotCounted,
    LotMoved,
    LotRejected,
    LotWrittenOff,
)


def effects_of_batch(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a batch does: takes from lots, gives new ones, joins them.

    Raises:
        EntryRefusedError: An input is not recorded or is on hold, or a composite output
            names no recipe that may be made on that day.
    """
    batch = expect(recorded.record, BatchMade)
    day = recorded.occurred_on
    site_named(shelf, batch.site, field="site")
    forms = set()
    for place, part in enumerate(batch.inputs):
        forms.add(lot_named(shelf, part.lot, field=f"inputs.{place}.lot").form)
        refuse_held(shelf, part.lot, recorded, field=f"inputs.{place}.lot")
    for place, output in enumerate(batch.outputs):
        _check_recipe(shelf, output, day, field=f"outputs.{place}.recipe")
    used = [(part.lot, to_grams(part.mass_kg)) for part in batch.inputs]
    made = [(part.lot, to_grams(part.mass_kg)) for part in batch.outputs]
    recipes = {part.recipe for part in batch.outputs if part.recipe is not None}
    return Effects(
        introduces=(
            Subject(SubjectKind.BATCH, batch.batch),
            *(Subject(SubjectKind.LOT, lot) for lot, _ in made),
        ),
        mentions=(
            *(Subject(SubjectKind.LOT, lot) for lot, _ in used),
            *(Subject(SubjectKind.RECIPE, recipe) for recipe in sorted(recipes)),
            *measured_in(batch, day, forms),
        ),
        postings=(
            *(
                Posting(Tally.stock(lot), day, -grams, Cause.USED)
                for lot, grams in used
            ),
            *(Posting(Tally.stock(lot), day, grams, Cause.MADE) for lot, grams in made),
        ),
        edges=tuple(
            Edge(source, target, grams) for target, _ in made for source, grams in used
        ),
    )


def _check_recipe(shelf: Shelf, output: Output, day: date, *, field: str) -> None:
    if output.recipe is None:
        if output.form.is_composite:
            raise refuse(
                "recipe-missing",
                field,
                f"{field} is missing: lot {output.lot} is {output.form}, whose content "
                "is counted by its recipe; name the recipe it was made to",
            )
        return
    recipe = recipe_named(shelf, output.recipe, field=field)
    if recipe.valid_from > day:
        raise refuse(
            "recipe-not-yet-valid",
            field,
            f"{field} names {output.recipe}, which may be made from "
            f"{recipe.valid_from} on, but the batch is of {day}; name the recipe of "
            "that day",
        )


def held_by(
    shelf: Shelf, lot: str, on: date, *, before: int | None = None
) -> str | None:
    """Return the hold under which a lot may not move on a date, if there is one.

    Args:
        shelf: What is recorded.
        lot: Lot number.
        on: Trade date.
        before: Slot; only holds placed before it are asked for, all where left out.
    """
    subject = Subject(SubjectKind.LOT, lot)
    placed = [
        *shelf.about(subject, "hold.placed"),
        *shelf.about(subject, "lot.rejected"),
    ]
    for found in placed:
        if not isinstance(found.record, HoldPlaced | LotRejected):
            raise TypeError(found.kind)
        hold = found.record.hold
        releases = shelf.about(Subject(SubjectKind.HOLD, hold), "hold.released")
        ended = min((release.occurred_on for release in releases), default=None)
        if (
            found.occurred_on <= on
            and (ended is None or on < ended)
            and (before is None or found.slot < before)
        ):
            return hold
    return None


def refuse_held(shelf: Shelf, lot: str, recorded: Recorded, *, field: str) -> None:
    """Refuse to move a lot that is on hold.

    A hold binds what is recorded after it. What was recorded before stays, even where
    the hold was dated back, since it says what has happened.

    Raises:
        EntryRefusedError: It is.
    """
    on = recorded.occurred_on
    hold = held_by(shelf, lot, on, before=recorded.slot)
    if hold is not None:
        raise refuse(
            "lot-on-hold",
            field,
            f"{field} names lot {lot}, which may not move on {on} under hold {hold}; "
            "release the hold with hold.released once it is decided, or use another lot",
        )


def effects_of_move(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what moving a lot does: it is known to be somewhere else.

    Raises:
        EntryRefusedError: The lot is not recorded or is on hold, or the site is unknown.
    """
    move = expect(recorded.record, LotMoved)
    lot_named(shelf, move.lot, field="lot")
    refuse_held(shelf, move.lot, recorded, field="lot")
    site_named(shelf, move.to_site, field="to_site")
    return Effects(mentions=(Subject(SubjectKind.LOT, move.lot),))


def effects_of_count(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a count does: nothing by itself; a difference is written off.

    Raises:
        EntryRefusedError: The lot is not recorded.
    """
    count = expect(recorded.record, LotCounted)
    lot_named(shelf, count.lot, field="lot")
    return Effects(mentions=(Subject(SubjectKind.LOT, count.lot),))


def effects_of_write_off(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what writing off does: stock goes, and certified content with it.

    What is spoiled can no longer be sold, so its certified content leaves the accounts.

    Raises:
        EntryRefusedError: The lot is not recorded.
    """
    loss = expect(recorded.record, LotWrittenOff)
    day, grams = recorded.occurred_on, to_grams(loss.mass_kg)
    content = certified_content_g(shelf, loss.lot, grams, day, field="lot")
    draws = [
        Posting(account.tally, day, -drawn(beans), Cause.WRITTEN_OFF)
        for account, beans in sorted(content.items())
    ]
    return Effects(
        mentions=(
            Subject(SubjectKind.LOT, loss.lot),
            *sorted(
                {Subject(SubjectKind.SCHEME, account.scheme) for account in content}
            ),
        ),
        postings=(
            Posting(Tally.stock(loss.lot), day, -grams, Cause.WRITTEN_OFF),
            *draws,
            *parting_for(shelf, recorded, draws),
        ),
    )


def effects_of_hold(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what placing a hold does: its lots may not move.

    Raises:
        EntryRefusedError: A lot is not recorded.
    """
    hold = expect(recorded.record, HoldPlaced)
    for place, lot in enumerate(hold.lots):
        lot_named(shelf, lot, field=f"lots.{place}")
    return Effects(
        introduces=(Subject(SubjectKind.HOLD, hold.hold),),
        mentions=tuple(Subject(SubjectKind.LOT, lot) for lot in hold.lots),
    )


def effects_of_release(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what releasing a hold does: its lots may move again.

    Raises:
        EntryRefusedError: The hold is not recorded, or is placed on a later day.
    """
    release = expect(recorded.record, HoldReleased)
    subject = Subject(SubjectKind.HOLD, release.hold)
    placed = require(shelf, subject, field="hold")
    if placed.occurred_on > recorded.occurred_on:
        raise refuse(
            "release-before-hold",
            "hold",
            f"hold {release.hold} was placed on {placed.occurred_on}, after its release "
            f"on {recorded.occurred_on}; correct one of the dates",
        )
    return Effects(mentions=(subject,))
