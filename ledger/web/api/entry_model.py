"""Entries as a program gives and reads them, and what recording them does."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field

from ledger.books.finding import Finding
from ledger.chain.entry import Entry
from ledger.desk.entries import OneEntry, Standing
from ledger.desk.foresight import DueChange, Foresight
from ledger.desk.record import Recording
from ledger.reports.figures import kg_text
from ledger.trade.money import signed_money_of
from ledger.trade.record import Day
from ledger.web.api.problem import Problem, problem_of
from ledger.web.api.row import Amount, EntryNumber, Kilograms, example

ADDRESS: Final = "/api/v1"
"""Where the calls are."""


class Part(BaseModel):
    """A part of a request or of an answer."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)


class NewEntry(Part):
    """One entry to record."""

    kind: str
    """Kind of the entry, which says what the body holds."""
    occurred_on: Day
    """When it happened in the trade."""
    body: dict[str, Any]
    """What happened, as the schema of its kind says."""


class Remark(Part):
    """Something unusual that the books noticed; it refuses nothing."""

    rule: str
    """Stable name of the rule."""
    field: str
    """Path of the field within the body; empty for the whole."""
    message: str


class RecordedEntry(Part):
    """An entry that was recorded."""

    model_config = example(
        entry=812,
        digest="7a1f0e5d3c2b4a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1",
        recorded_at="2026-10-02T09:14:05.120934Z",
        recorded_by="buyer-1",
        address="/api/v1/entries/812",
        warnings=[],
        restated=[],
    )

    entry: EntryNumber
    digest: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    """Digest of the entry (RFC 9162, 2.1.1), in hexadecimal."""
    recorded_at: datetime
    recorded_by: str
    address: str
    """Where the entry can be read."""
    warnings: list[Remark]
    restated: list[EntryNumber]
    """Earlier entries that count differently because of it."""

    @classmethod
    def of(cls, made: Recording, digest: str) -> "RecordedEntry":
        """Return what there is to say of an entry that was let in."""
        recorded = made.recorded
        return cls(
            entry=recorded.seq,
            digest=digest,
            recorded_at=recorded.recorded_at,
            recorded_by=recorded.recorded_by,
            address=f"{ADDRESS}/entries/{recorded.seq}",
            warnings=remarks(made.judgement.warnings),
            restated=list(made.judgement.restated),
        )


class EntryLine(Part):
    """One entry in a list."""

    model_config = example(
        entry=38,
        kind="shipment.received",
        occurred_on="2024-10-21",
        recorded_at="2024-10-22T07:40:00.000000Z",
        recorded_by="buyer-1",
        standing="counts",
        counts_as=38,
    )

    entry: EntryNumber
    kind: str
    occurred_on: date
    recorded_at: datetime
    recorded_by: str
    standing: Annotated[str, Field(pattern="^(counts|void|replaced)$")]
    """Whether what it recorded counts."""
    counts_as: EntryNumber | None
    """Entry whose words count in its place now; null where none do."""

    @classmethod
    def of(cls, entry: Entry, standing: Standing) -> "EntryLine":
        """Return an entry as a line of a list."""
        return cls(**_line(entry, standing))


class Entries(Part):
    """Entries, the last recorded first."""

    entries: list[EntryLine]
    next: str | None
    """Cursor of the next page, with entries recorded earlier; null on the last."""


class SealedPart(Part):
    """Values of a body that stay sealed for the reader."""

    path: str
    """Where in the body; empty for its top."""
    count: int


class EntryRead(EntryLine):
    """One entry, as much of it as the reader may see."""

    model_config = ConfigDict(json_schema_extra={"examples": []})

    prev: str
    """Digest of the entry before."""
    digest: str
    """Digest of the entry: SHA-256 over a zero byte and `stored` in UTF-8."""
    stored: str
    """The entry as it is stored, in canonical JSON (RFC 8785)."""
    body: dict[str, Any]
    """The body, with the sealed values that the reader may see put back."""
    sealed: list[SealedPart]
    erased: int
    """How many sealed values nobody can open any more."""
    corrections: list[EntryNumber]
    """Corrections that touch it."""

    @classmethod
    def of_one(cls, one: OneEntry) -> "EntryRead":
        """Return an entry as its reader may see it."""
        return cls(
            **_line(one.entry, one.standing),
            prev=one.entry.prev,
            digest=one.digest,
            stored=one.raw.decode(),
            body=dict(one.body),
            sealed=[
                SealedPart(path=part.within, count=part.count) for part in one.hidden
            ],
            erased=one.erased,
            corrections=[found.seq for found in one.corrections],
        )


class MassChange(Part):
    """What an entry would do to an account, in bean equivalents, or to a lot."""

    name: str
    """The account or lot."""
    before_kg: Kilograms
    after_kg: Kilograms


class OwedChange(Part):
    """What an entry would do to what somebody is still owed."""

    contract: str
    what: str
    """What it is for, such as premium."""
    payee: str
    currency: str | None
    before: Amount | None
    """Still owed without the entry; null where it has no figure."""
    after: Amount | None
    """Still owed with it."""
    is_provisional: bool
    because: str | None
    """Why it is provisional or has no figure."""


class Foretold(Part):
    """What an entry would do, if it were recorded now."""

    would_be_recorded: bool
    problem: Problem | None
    """Why it would not be; null where it would."""
    warnings: list[Remark]
    accounts: list[MassChange]
    lots: list[MassChange]
    dues: list[OwedChange]
    remarks: list[Remark]
    """What would be found about the dues of its contract, once it is recorded."""
    restated: int
    """How many earlier entries would count differently."""

    @classmethod
    def of(cls, found: Foresight) -> "Foretold":
        """Return what was foreseen as a program reads it."""
        refusal = found.refusal
        return cls(
            would_be_recorded=refusal is None,
            problem=None if refusal is None else problem_of(refusal),
            warnings=remarks(found.warnings),
            accounts=[
                _mass(one.account, one.before_g, one.after_g) for one in found.accounts
            ],
            lots=[_mass(one.lot, one.before_g, one.after_g) for one in found.lots],
            dues=[_owed(one) for one in found.dues],
            remarks=remarks(found.remarks),
            restated=found.restated,
        )


class FileNote(Remark):
    """Something unusual about one entry of a file."""

    where: str
    """File and line or row."""
    entry: EntryNumber


class RecordedFile(Part):
    """A file of entries that was recorded, or would be."""

    model_config = example(
        name="2026-10-arrivals.yaml", entries=3, first=812, warnings=[]
    )

    name: str
    entries: int
    """How many entries it holds."""
    first: EntryNumber
    """Number of the first of them."""
    warnings: list[FileNote]


def remarks(found: Iterable[Finding]) -> list[Remark]:
    """Return findings as a program reads them."""
    return [
        Remark(rule=one.rule, field=one.field, message=one.message) for one in found
    ]


def _line(entry: Entry, standing: Standing) -> dict[str, Any]:
    if standing.by == entry.seq:
        word = "counts"
    elif standing.is_void:
        word = "void"
    else:
        word = "replaced"
    return {
        "entry": entry.seq,
        "kind": entry.kind,
        "occurred_on": entry.occurred_on,
        "recorded_at": entry.recorded_at,
        "recorded_by": entry.recorded_by,
        "standing": word,
        "counts_as": None if standing.is_void else standing.by,
    }


def _mass(name: str, before_g: int, after_g: int) -> MassChange:
    return MassChange(name=name, before_kg=kg_text(before_g), after_kg=kg_text(after_g))


def _owed(one: DueChange) -> OwedChange:
    def shown(minor: int | None) -> str | None:
        if minor is None or one.currency is None:
            return None
        return str(signed_money_of(minor, currency=one.currency).amount)

    return OwedChange(
        contract=one.contract,
        what=one.what,
        payee=one.payee,
        currency=one.currency,
        before=shown(one.before_minor),
        after=shown(one.after_minor),
        is_provisional=one.is_provisional,
        because=one.because or None,
    )
