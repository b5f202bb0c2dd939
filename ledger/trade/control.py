"""Keeping the record itself: corrections, period closes, documents."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, JsonValue, model_validator

from ledger.trade.codes import Digest, SealDigest
from ledger.trade.quantity import Count
from ledger.trade.record import Day, Name, Record, Text, YesNo


class Replacement(Record):
    """What should have been recorded instead."""

    entry_kind: Text
    """Kind of the entry."""
    occurred_on: Day
    """When it happened in the trade."""
    body: dict[str, JsonValue]
    """Body of the entry, as it would be recorded."""


class Correction(Record):
    """An entry was wrong: it is void, or another stands in its place."""

    kind: ClassVar[str] = "correction"

    target: Count
    """Sequence number of the entry, or of the correction whose replacement is wrong."""
    reason: Text
    """What was wrong and how it was found out."""
    replacement: Replacement | None = None
    """What stands in its place; left out where the entry is simply void."""
    approved_by: Name | None = None
    """Second person who approved it."""
    accept_breach: YesNo = False
    """Record it even if it leaves an account short; that opens a breach."""


class PeriodClosed(Record):
    """The compliance officer signed off everything up to a day."""

    kind: ClassVar[str] = "period.closed"

    period: Name
    """Name of the period, such as 2025."""
    start: Day
    """First day."""
    end: Day
    """Last day."""
    signed_off_by: Name
    """The compliance officer."""
    accept_breach: YesNo = False
    """Close it even if an account is not settled by its end; the breach stays open."""
    note: Text | None = None
    """Remarks."""

    @model_validator(mode="after")
    def _runs_forward(self) -> Self:
        if self.end < self.start:
            msg = f"end {self.end} lies before start {self.start}; swap the two dates"
            raise ValueError(msg)
        return self


class DisclosureErased(Record):
    """A person's data were erased: what opened their sealed values is gone for good."""

    kind: ClassVar[str] = "disclosure.erased"

    party: Name
    """The party whose data they were."""
    members: Annotated[
        tuple[Literal["legal_name", "address", "contacts"], ...], Field(min_length=1)
    ]
    """What was erased."""
    digests: Annotated[tuple[SealDigest, ...], Field(min_length=1)]
    """Digests that stood for the values, and stay in the entries."""
    reason: Text
    """Why, and who asked for it; it must not repeat what was erased."""


class About(Record):
    """A thing that a document belongs to."""

    subject: Literal["party", "certificate", "contract", "shipment", "lot", "sale"]
    """What sort of thing."""
    name: Name
    """Its name."""


class DocumentAttached(Record):
    """A paper was attached; the file is kept beside the ledger by its digest."""

    kind: ClassVar[str] = "document.attached"

    document: Name
    """Name of the document."""
    title: Text
    """What it is, such as bill of lading or weight note."""
    sha256: Digest
    """SHA-256 of the file."""
    media_type: Text
    """Media type of the file, such as application/pdf."""
    size: Count
    """Size of the file in bytes."""
    about: tuple[About, ...]
    """What it belongs to."""
