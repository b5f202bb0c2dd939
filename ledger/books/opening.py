"""From an entry as stored to the record that the books judge."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import cast

from pydantic import ValidationError

from ledger.books.effect import Recorded
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry
from ledger.chain.seal import open_sealed
from ledger.errors import InputError
from ledger.trade.control import Correction
from ledger.trade.kinds import model_of
from ledger.trade.record import Record


def open_entry(entry: Entry, disclosures: Iterable[str]) -> Recorded:
    """Return an entry with what is disclosed of it put back.

    Args:
        entry: The entry as stored.
        disclosures: Texts of those of its sealed values that the reader may see.

    Raises:
        SealError: A disclosure does not belong to the entry.
        InputError: The body does not follow the model of its kind.
    """
    opened = open_sealed(entry.body, tuple(disclosures))
    return Recorded(
        seq=entry.seq,
        slot=entry.seq,
        occurred_on=entry.occurred_on,
        recorded_at=entry.recorded_at,
        recorded_by=entry.recorded_by,
        record=parse_body(entry.kind, opened.body, hidden=bool(opened.hidden)),
    )


def replacement_in(correction: Recorded, *, slot: int) -> Recorded | None:
    """Return the record that a correction puts in a slot, or None where it only voids.

    Raises:
        InputError: The replacement does not follow the model of its kind.
    """
    record = correction.record
    if not isinstance(record, Correction) or record.replacement is None:
        return None
    wanted = record.replacement
    return replace(
        correction,
        slot=slot,
        occurred_on=wanted.occurred_on,
        record=parse_body(
            wanted.entry_kind, cast("Mapping[str, JsonValue]", wanted.body), hidden=True
        ),
    )


def parse_body(
    kind: str, body: Mapping[str, JsonValue], *, hidden: bool = False
) -> Record:
    """Return the model of a body.

    Args:
        kind: Kind of the entry.
        body: Its body, opened.
        hidden: Whether sealed members may be missing.

    Raises:
        InputError: The kind is unknown, or the body does not follow its model; the
            sentence names every field that does not.
    """
    model = model_of(kind)
    try:
        record = model.model_validate(body)
    except ValidationError as error:
        raise InputError(_sentence(kind, error)) from error
    if not hidden:
        _require_sealed(record)
    return record


def _require_sealed(record: Record) -> None:
    for field in record.sealed_required:
        if getattr(record, field) is None:
            raise InputError(
                f"field {field} of {record.kind} is missing; it is required when the "
                "entry is recorded, and is sealed from readers who may not see it"
            )


def _sentence(kind: str, error: ValidationError) -> str:
    parts = []
    for problem in error.errors(include_url=False):
        path = ".".join(str(step) for step in problem["loc"])
        message = problem["msg"].removeprefix("Value error, ")
        where = f"field {path} of {kind}" if path else kind
        parts.append(f"{where}: {message}")
    return "; ".join(parts)
