"""Records as the books judge them, read from the bytes that were stored."""

from collections.abc import Collection, Container, Mapping, Sequence
from dataclasses import replace

from ledger.books.effect import Recorded
from ledger.chain.entry import parse_entry
from ledger.store.entries import disclosures_of
from ledger.store.rows import Rows, listed


def read_slots(
    rows: Rows, slots: Collection[int], only: Container[str] | None = None
) -> Mapping[int, Recorded]:
    """Return what counts in each of some slots, with what is disclosed of it.

    Args:
        rows: Whom to ask.
        slots: The slots; those where nothing counts are missing from the answer.
        only: The disclosures that open anything; all where left out.

    Raises:
        InputError: An entry cannot be read.
        SealError: A disclosure does not belong to its entry.
    """
    if not slots:
        return {}
    question = (
        "SELECT s.slot, e.seq, e.raw FROM slot s JOIN entry e ON e.seq = s.seq "
        "WHERE s.slot IN ({values})"
    )
    found = list(listed(rows, question, slots))
    disclosures = disclosures_of(rows, [seq for _, seq, _ in found])
    shown = {
        seq: [text for text in texts if only is None or text in only]
        for seq, texts in disclosures.items()
    }
    return {
        slot: _read(slot, bytes(raw), shown.get(seq, ())) for slot, seq, raw in found
    }


def _read(slot: int, raw: bytes, disclosures: Sequence[str]) -> Recorded:
    # Loads the models of the trade, which a question about masses does without.
    from ledger.books.opening import open_entry, replacement_in  # noqa: PLC0415

    recorded = open_entry(parse_entry(raw), disclosures, converted_before=True)
    if recorded.slot == slot:
        return recorded
    # A correction that only voids may itself stand in the slot, with what it left.
    return replacement_in(recorded, slot=slot, converted_before=True) or replace(
        recorded, slot=slot
    )


def writers_of(rows: Rows, slots: Collection[int]) -> Mapping[int, tuple[int, str]]:
    """Return number and kind of the entry that wrote what counts in each of some slots.

    Args:
        rows: Whom to ask.
        slots: The slots; those where nothing counts are missing from the answer.
    """
    question = "SELECT slot, seq, kind FROM slot WHERE slot IN ({values})"
    return {slot: (seq, kind) for slot, seq, kind in listed(rows, question, slots)}
