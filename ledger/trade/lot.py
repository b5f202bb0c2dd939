"""What happens to a lot outside a batch: moved, counted, written off, held."""

from typing import ClassVar

from ledger.trade.quantity import Count, Kilograms, PositiveKilograms
from ledger.trade.record import Day, Measured, Name, Record, Text
from ledger.trade.words import LossReason


class LotMoved(Record):
    """A whole lot was put somewhere else; to move part of one, split it first."""

    kind: ClassVar[str] = "lot.moved"

    lot: Name
    """The lot."""
    to_place: Name
    """Where it is now."""
    to_site: Name | None = None
    """Site it is now at, where that changed."""


class LotCounted(Measured):
    """Somebody weighed or counted what is really there."""

    kind: ClassVar[str] = "lot.counted"

    lot: Name
    """The lot."""
    found_kg: Kilograms
    """Mass found."""
    pieces: Count | None = None
    """Pieces found."""
    counted_by: Name
    """Who counted."""
    place: Name | None = None
    """Where."""


class LotWrittenOff(Measured):
    """Mass of a lot is gone: spoiled, spilt, sampled, destroyed or short at a count."""

    kind: ClassVar[str] = "lot.written_off"

    lot: Name
    """The lot."""
    mass_kg: PositiveKilograms
    """How much is gone."""
    reason: LossReason
    """Why."""
    note: Text | None = None
    """What happened, and the paper that shows it."""


class LotRejected(Record):
    """A received lot turned out unfit after it was taken, and maybe used.

    It no longer counts as certified, and what is left of it is on hold. What that does to
    its price is for the contract to say; the dues stay as they are.
    """

    kind: ClassVar[str] = "lot.rejected"

    lot: Name
    """The received lot."""
    from_on: Day
    """First day on which it no longer counts; may lie before the day it was learnt."""
    hold: Name
    """Name of the hold under which what is left of it stays."""
    reason: Text
    """What was found, and who decided."""
    document: Text | None = None
    """Number of the notice to the seller, or of the laboratory's report."""


class HoldPlaced(Record):
    """A lot may not move until the hold is released."""

    kind: ClassVar[str] = "hold.placed"

    hold: Name
    """Name of the hold."""
    lots: tuple[Name, ...]
    """Lots that may not move."""
    reason: Text
    """Why."""


class HoldReleased(Record):
    """A hold ended."""

    kind: ClassVar[str] = "hold.released"

    hold: Name
    """The hold."""
    reason: Text
    """Why it may move again, and who decided."""
