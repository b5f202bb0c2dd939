"""Keeping the derived tables up as records begin and cease to count."""

from collections import Counter
from collections.abc import Iterable, Iterator

from ledger.books.effect import Effects, Posting, Recorded, Tally
from ledger.store.rows import Rows, Value

_Row = dict[str, Value]


def keep(write: Rows, recorded: Recorded, effects: Effects) -> None:
    """Write the rows of a record that begins to count.

    Args:
        write: The transaction of a writer.
        recorded: The record; its slot must be free.
        effects: What it does to the books.

    Raises:
        RefusedError: The slot is taken, or a subject is introduced a second time.
    """
    slot: _Row = {"slot": recorded.slot}
    kind = recorded.kind
    _insert(
        write,
        "slot",
        slot
        | {
            "seq": recorded.seq,
            "kind": kind,
            "occurred_on": recorded.occurred_on.isoformat(),
        },
    )
    for line, subject in enumerate(effects.introduces):
        named: _Row = {"kind": subject.kind.value, "name": subject.name, "line": line}
        _insert(write, "introduced", slot | named)
    for line, subject in enumerate(effects.mentions):
        named = {"kind": subject.kind.value, "name": subject.name, "line": line}
        _insert(write, "mention", slot | named | {"entry_kind": kind})
    for line, posting in enumerate(effects.postings):
        moved: _Row = {
            "day": posting.day.isoformat(),
            "line": line,
            "grams": posting.grams,
            "cause": posting.cause.value,
        }
        _insert(write, "posting", slot | key_of(posting.tally) | moved)
    for line, edge in enumerate(effects.edges):
        joined: _Row = {
            "line": line,
            "source": edge.source,
            "target": edge.target,
            "grams": edge.grams,
        }
        _insert(write, "edge", slot | joined)
    for day in _net_by_day(effects.postings):
        write(_FROM_THAT_DAY_ON, day)
        write(_NEW_DAY, day)


def leave_out(write: Rows, slot: int, effects: Effects) -> None:
    """Remove the rows of a record that ceases to count.

    Args:
        write: The transaction of a writer.
        slot: The slot it takes.
        effects: What it did to the books.
    """
    for table in ("introduced", "mention", "posting", "edge", "slot"):
        write(f"DELETE FROM {table} WHERE slot = :slot", {"slot": slot})  # noqa: S608 - ours
    for day in _net_by_day(effects.postings, sign=-1):
        write(_FROM_THAT_DAY_ON, day)
        write(_DAY_WITHOUT_POSTINGS, day)


def key_of(tally: Tally) -> _Row:
    """Return the columns by which the rows of a running total are found."""
    return {"book": tally.book.value, "key": tally.key}


_FROM_THAT_DAY_ON = """
UPDATE tally_day SET closing_g = closing_g + :grams
WHERE book = :book AND key = :key AND day >= :day
"""
# A new day goes on from the day before it; one that was there is updated by now.
_NEW_DAY = """
INSERT INTO tally_day (book, key, day, closing_g)
SELECT CAST(:book AS TEXT), CAST(:key AS TEXT), CAST(:day AS TEXT),
       CAST(:grams AS BIGINT) + COALESCE(
         (SELECT closing_g FROM tally_day
          WHERE book = :book AND key = :key AND day < :day
          ORDER BY day DESC LIMIT 1), 0)
WHERE NOT EXISTS (
  SELECT 1 FROM tally_day WHERE book = :book AND key = :key AND day = :day)
"""
_DAY_WITHOUT_POSTINGS = """
DELETE FROM tally_day WHERE book = :book AND key = :key AND day = :day
AND NOT EXISTS (
  SELECT 1 FROM posting WHERE book = :book AND key = :key AND day = :day)
"""


def _insert(write: Rows, table: str, row: _Row) -> None:
    write(
        f"INSERT INTO {table} ({', '.join(row)}) "  # noqa: S608 - names of ours
        f"VALUES ({', '.join(f':{column}' for column in row)})",
        row,
    )


def _net_by_day(postings: Iterable[Posting], *, sign: int = 1) -> Iterator[_Row]:
    net: Counter[tuple[Tally, str]] = Counter()
    for posting in postings:
        net[posting.tally, posting.day.isoformat()] += sign * posting.grams
    for (tally, day), grams in net.items():
        yield key_of(tally) | {"day": day, "grams": grams}
