"""What opens sealed values, read beside the entries and held to them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from ledger.audit.layout import DISCLOSURES
from ledger.audit.source import Line, Source, lines_of
from ledger.audit.verdict import Part, Where
from ledger.chain.canonical import JsonValue, canonical_bytes, parse_canonical
from ledger.chain.entry import Entry
from ledger.chain.seal import disclosure_digest, open_sealed
from ledger.errors import InputError, LedgerError, SealError

_FORM: Final = "the integer seq, the text text, and nothing else, as canonical JSON"


@dataclass(frozen=True, slots=True)
class Given:
    """One disclosure of a pack.

    Attributes:
        line: The line it stands on.
        seq: The entry it is for.
        text: The disclosure.
    """

    line: Line
    seq: int
    text: str


def disclosure_line(seq: int, text: str) -> bytes:
    """Return the line that carries a disclosure."""
    return canonical_bytes({"seq": seq, "text": text}) + b"\n"


class DisclosureCheck:
    """Hands out the disclosures of one entry after another, and checks that they belong.

    Attributes:
        hidden: How many sealed values stay sealed.
    """

    def __init__(self, source: Source, part: Part) -> None:
        self.hidden = 0
        self._part = part
        self._given = self._read(source)
        self._next = next(self._given, None)

    def open(self, place: int, entry: Entry) -> tuple[str, ...]:
        """Return the disclosures that open sealed values of an entry.

        Those that do not belong to it are noted, and left out.

        Args:
            place: Place of the entry in the pack.
            entry: The entry.
        """
        given = self._of(place)
        for _ in range(len(given) + 1):
            try:
                opened = open_sealed(entry.body, [one.text for one in given])
            except LedgerError as error:
                wrong = _wrong_one(entry.body, given)
                if wrong is None:
                    break
                self._note(wrong, str(error))
                given.remove(wrong)
            else:
                self.hidden += sum(hidden.count for hidden in opened.hidden)
                return tuple(one.text for one in given)
        # The entry's own digests are malformed; the books will say so.
        return ()

    def finish(self) -> None:
        """Note what is left over once every entry is read."""
        while self._next is not None:
            self._note(self._next, "no entry of the pack has this number")
            self._next = next(self._given, None)

    def _of(self, place: int) -> list[Given]:
        found: list[Given] = []
        while self._next is not None and self._next.seq <= place:
            if self._next.seq == place:
                found.append(self._next)
            else:
                self._note(self._next, "it stands after those of later entries")
            self._next = next(self._given, None)
        return found

    def _read(self, source: Source) -> Iterator[Given]:
        if DISCLOSURES not in source.names:
            return
        before = (-1, "")
        for line in lines_of(source, DISCLOSURES):
            self._part.count += 1
            try:
                given = _parse(line)
                order = (given.seq, disclosure_digest(given.text))
            except LedgerError as error:
                where = Where(DISCLOSURES, line.number, byte=line.start)
                self._part.add(where, str(error))
                continue
            if order <= before:
                self._note(given, "it is out of order or stands twice")
            before = order
            yield given

    def _note(self, given: Given, why: str) -> None:
        self._part.add(
            Where(DISCLOSURES, given.line.number, given.seq, given.line.start),
            f"the disclosure does not belong to entry {given.seq}: {why}",
        )


def _parse(line: Line) -> Given:
    match parse_canonical(line.raw):
        case {"seq": int() as seq, "text": str() as text, **others} if not others:
            if isinstance(seq, bool) or seq < 0:
                raise InputError(f"seq is {seq!r}; it must be the number of an entry")
        case _:
            raise InputError(f"a disclosure is {_FORM}")
    if not line.ended:
        raise SealError("the last line does not end; the file was cut")
    return Given(line, seq, text)


def _wrong_one(body: Mapping[str, JsonValue], given: list[Given]) -> Given | None:
    """Return the disclosure to blame: the one without which the others open."""
    for one in given:
        others = [other.text for other in given if other is not one]
        try:
            open_sealed(body, others)
        except LedgerError:
            continue
        return one
    return given[0] if given else None
