"""From an entry as stored to the record that the books judge."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import cast

from pydantic import ValidationError

from ledger.books.effect import Recorded
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry
from ledger.chain.seal import open_sealed
from ledger.trade.control import Correction
from ledger.trade.kinds import model_of
from ledger.trade.record import CONVERTED_BEFORE, Record
from ledger.trade.sentence import BodyError, body_error, missing_problem


def open_entry(
    entry: Entry, disclosures: Iterable[str], *, converted_before: bool = False
) -> Recorded:
    """Return an entry with what is disclosed of it put back.

    Args:
        entry: The entry as stored.
        disclosures: Texts of those of its sealed values that the reader may see.
        converted_before: Whether what was typed was already compared with the figures,
            as in a ledger of our own; a pack of somebody else's was not.

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
        record=parse_body(
            entry.kind,
            opened.body,
            hidden=bool(opened.hidden),
            converted_before=converted_before,
        ),
    )


def replacement_in(
    correction: Recorded, *, slot: int, converted_before: bool = False
) -> Recorded | None:
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
            wanted.entry_kind,
            cast("Mapping[str, JsonValue]", wanted.body),
            hidden=True,
            converted_before=converted_before,
        ),
    )


def parse_body(
    kind: str,
    body: Mapping[str, JsonValue],
    *,
    hidden: bool = False,
    converted_before: bool = False,
) -> Record:
    """Return the model of a body.

    Args:
        kind: Kind of the entry.
        body: Its body, opened.
        hidden: Whether sealed members may be missing.
        converted_before: Whether what was typed was already compared with the figures.

    Raises:
        InputError: The kind is unknown.
        BodyError: The body does not follow its model; it carries every problem.
    """
    model = model_of(kind)
    try:
        record = model.model_validate(
            body, context=CONVERTED_BEFORE if converted_before else None
        )
    except ValidationError as error:
        raise body_error(kind, model, error) from error
    if not hidden:
        _require_sealed(record)
    return record


def _require_sealed(record: Record) -> None:
    missing = tuple(
        missing_problem(record.kind, type(record), field)
        for field in record.sealed_required
        if getattr(record, field) is None
    )
    if missing:
        raise BodyError(record.kind, missing)
