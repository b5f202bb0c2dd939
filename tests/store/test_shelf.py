"""Tables and dictionaries are the same shelf: they give the same answers."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from ledger.books.effect import (
    Book,
    Cause,
    Edge,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry, replacement_in
from ledger.books.shelf import Run, Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import parse_entry
from ledger.chain.seal import disclosure_digest
from ledger.errors import RefusedError
from ledger.store.derived import derived_rows, drop_derived
from ledger.store.engine import open_engine, rows_of
from ledger.store.entries import append, delete_disclosures, rebuild_frontier
from ledger.store.rows import NOTHING, Row, Rows, Value
from ledger.store.shelf import SqlShelf
from tests.store.conftest import NewDatabase
from tests.store.sample import DAY, Written, chain, written

ENTRIES = 8
# Entries 8 and 9 replace 2 and 4; entry 10 voids 5 but may stand in its slot.
REPLACED, VOIDED = {8: 2, 9: 4}, {10: 5}

SUBJECTS = [
    Subject(kind, name)
    for kind, name in product(
        (SubjectKind.LOT, SubjectKind.PARTY), ("a", "B", "Ä", "a-1", "a/1", "10", "9")
    )
]
TALLIES = [
    Tally(Book.STOCK, "L-1"),
    Tally(Book.STOCK, "l-1"),
    Tally(Book.ACCOUNT, "scheme/cocoa ü"),
]
DAYS = [DAY + timedelta(days=n) for n in (0, 1, 2, 5, 30)]
LOTS = ["L-1", "L-2", "l-1", "Ö"]

POSTINGS = st.builds(
    Posting,
    tally=st.sampled_from(TALLIES),
    day=st.sampled_from(DAYS),
    grams=st.integers(-3, 3) | st.integers(-(10**15), 10**15),
    cause=st.sampled_from(Cause),
)
EDGES = st.builds(
    Edge,
    source=st.sampled_from(LOTS),
    target=st.sampled_from(LOTS),
    grams=st.integers(0, 10**12),
)
EFFECTS = st.builds(
    Effects,
    introduces=st.lists(st.sampled_from(SUBJECTS), unique=True, max_size=3).map(tuple),
    mentions=st.lists(st.sampled_from(SUBJECTS), max_size=3).map(tuple),
    postings=st.lists(POSTINGS, max_size=4).map(tuple),
    edges=st.lists(EDGES, max_size=3).map(tuple),
)
STEPS = st.lists(st.tuples(st.integers(0, ENTRIES + 2), EFFECTS), max_size=12)
"""Which entry is meant, and what it does if it begins to count."""


def entries() -> list[Written]:
    found = chain(ENTRIES)
    body: Mapping[str, JsonValue]
    for seq, target in (REPLACED | VOIDED).items():
        body = {"target": target, "reason": "mistyped"}
        if seq in REPLACED:
            body |= {
                "replacement": {
                    "entry_kind": "lot.moved",
                    "occurred_on": DAYS[1].isoformat(),
                    "body": {"lot": f"L-{target}", "to_place": "Shelf-8"},
                }
            }
        found.append(written(seq, found[-1].leaf.hex(), "correction", body))
    return found


WRITTEN = entries()


def recorded(seq: int) -> Recorded:
    """What the books would be given when an entry is recorded."""
    found = open_entry(parse_entry(WRITTEN[seq].raw), WRITTEN[seq].disclosures)
    if seq in REPLACED:
        replacement = replacement_in(found, slot=REPLACED[seq])
        assert replacement is not None
        return replacement
    if seq in VOIDED:
        return Recorded(
            seq, VOIDED[seq], DAY, found.recorded_at, found.recorded_by, found.record
        )
    return found


RECORDED = [recorded(seq) for seq in range(len(WRITTEN))]
KINDS = sorted({found.kind for found in RECORDED})


@pytest.fixture(scope="module")
def filled(new_database: NewDatabase) -> Iterator[Engine]:
    """A ledger with entries, and nothing derived from them but the tree."""
    engine = open_engine(new_database())
    with engine.begin() as connection:
        for entry in WRITTEN:
            append(rows_of(connection), entry.raw, entry.disclosures)
    yield engine
    engine.dispose()


@pytest.fixture
def rows(filled: Engine) -> Iterator[Rows]:
    with filled.connect() as connection, connection.begin() as transaction:
        yield rows_of(connection)
        transaction.rollback()


@dataclass
class Both:
    """The two shelves, put to the same use."""

    tables: SqlShelf
    dictionaries: MemoryShelf = field(default_factory=MemoryShelf)
    introduced: set[Subject] = field(default_factory=set)

    def step(self, seq: int, effects: Effects) -> None:
        """Take what counts in the entry's slot, or let the entry count there."""
        slot = RECORDED[seq].slot
        if self.dictionaries.at(slot) is not None:
            before = self.dictionaries.take(slot)
            assert self.tables.take(slot) == before
            self.introduced -= set(before[1].introduces)
            return
        # The books never let a subject be introduced twice.
        effects = Effects(
            tuple(s for s in effects.introduces if s not in self.introduced),
            effects.mentions,
            effects.postings,
            effects.edges,
        )
        self.introduced |= set(effects.introduces)
        self.dictionaries.put(RECORDED[seq], effects)
        self.tables.put(RECORDED[seq], effects)


def answers(shelf: Shelf) -> Sequence[object]:
    """Everything that can be asked."""
    periods = [(None, None), *product([None, *DAYS], [None, *DAYS])]
    return [
        [shelf.introducer(subject) for subject in SUBJECTS],
        [
            list(shelf.about(subject, kind))
            for subject, kind in product(SUBJECTS, [None, *KINDS])
        ],
        [list(shelf.subjects(kind)) for kind in SubjectKind],
        [list(shelf.of_kind(kind)) for kind in [*KINDS, "no.kind"]],
        [shelf.at(slot) for slot in range(ENTRIES + 4)],
        [shelf.effects(slot) for slot in range(ENTRIES + 4)],
        [
            shelf.run(tally, since, until)
            for tally, (since, until) in product(TALLIES, periods)
        ],
        [
            list(shelf.days_moved(tally, since, until))
            for tally, (since, until) in product(TALLIES, periods)
        ],
        [list(shelf.tallies(book)) for book in Book],
        [
            list(shelf.standing(book, until))
            for book, until in product(Book, [date.min, *DAYS, date.max])
        ],
        [list(shelf.edges_into(lots)) for lots in ([], LOTS[:1], LOTS, LOTS * 2)],
        [list(shelf.edges_out_of(lots)) for lots in ([], LOTS[:1], LOTS, LOTS * 2)],
    ]


def closings(rows: Rows) -> list[tuple[object, ...]]:
    """The end of every day with postings, added up from the postings alone."""
    totals: dict[tuple[str, str], int] = {}
    days: dict[tuple[str, str, str], int] = {}
    for book, key, day, grams in rows(
        "SELECT book, key, day, grams FROM posting ORDER BY book, key, day"
    ):
        totals[book, key] = totals.get((book, key), 0) + grams
        days[book, key, day] = totals[book, key]
    return [(*key, closing) for key, closing in days.items()]


@given(steps=STEPS)
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_both_shelves_always_give_the_same_answers(
    filled: Engine, steps: list[tuple[int, Effects]]
) -> None:
    with filled.connect() as connection, connection.begin() as transaction:
        rows = rows_of(connection)
        both = Both(SqlShelf(rows))
        for step in steps:
            both.step(*step)

            assert rows(
                "SELECT book, key, day, closing_g FROM tally_day ORDER BY book, key, day"
            ) == closings(rows)
        assert answers(both.tables) == answers(both.dictionaries)
        # Nothing rests on what the shelf remembers of what it was given.
        assert answers(SqlShelf(rows)) == answers(both.dictionaries)
        transaction.rollback()


@given(steps=STEPS)
@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_a_rebuild_gives_identical_rows(
    filled: Engine, steps: list[tuple[int, Effects]]
) -> None:
    with filled.connect() as connection, connection.begin() as transaction:
        rows = rows_of(connection)
        both = Both(SqlShelf(rows))
        for step in steps:
            both.step(*step)
        before = list(derived_rows(rows))
        drop_derived(rows)
        assert list(derived_rows(rows)) == []
        rebuild_frontier(rows)
        again = SqlShelf(rows)
        for slot in range(ENTRIES + 4):
            found = both.dictionaries.at(slot)
            if found is not None:
                again.put(found, both.dictionaries.effects(slot))

        assert list(derived_rows(rows)) == before
        transaction.rollback()


def test_a_running_total_opens_with_what_stood_before_it(rows: Rows) -> None:
    shelf = SqlShelf(rows)
    stock = TALLIES[0]
    shelf.put(RECORDED[0], Effects(postings=(Posting(stock, DAYS[0], 10, Cause.MADE),)))
    shelf.put(RECORDED[1], Effects(postings=(Posting(stock, DAYS[2], -4, Cause.USED),)))

    assert shelf.run(stock, since=DAYS[3]) == Run(6, ())
    assert shelf.run(stock, since=DAYS[2]).opening_g == 10
    assert shelf.run(stock, until=DAYS[1]).closing_g == 10
    assert shelf.run(stock).closing_g == 6


def test_an_opening_is_read_without_the_history(rows: Rows) -> None:
    shelf = SqlShelf(rows)
    stock = TALLIES[0]
    for seq in range(5):
        moved = Posting(stock, DAYS[seq], 1, Cause.MADE)
        shelf.put(RECORDED[seq], Effects(postings=(moved,)))
    rows("DELETE FROM posting WHERE slot < 4")

    assert shelf.run(stock, since=DAYS[4]).opening_g == 4


def test_a_backdated_posting_lifts_every_later_day(rows: Rows) -> None:
    shelf = SqlShelf(rows)
    stock = TALLIES[0]
    for seq, day in enumerate([DAYS[2], DAYS[3], DAYS[0]]):
        shelf.put(
            RECORDED[seq], Effects(postings=(Posting(stock, day, 5, Cause.MADE),))
        )

    assert rows("SELECT day, closing_g FROM tally_day ORDER BY day") == [
        (DAYS[0].isoformat(), 5),
        (DAYS[2].isoformat(), 10),
        (DAYS[3].isoformat(), 15),
    ]


def test_a_day_without_postings_has_no_row(rows: Rows) -> None:
    shelf = SqlShelf(rows)
    stock = TALLIES[0]
    for seq, day in enumerate(DAYS[:2]):
        shelf.put(
            RECORDED[seq], Effects(postings=(Posting(stock, day, 5, Cause.MADE),))
        )
    shelf.take(0)

    assert rows("SELECT day, closing_g FROM tally_day") == [(DAYS[1].isoformat(), 5)]


def test_a_slot_takes_one_record_only(rows: Rows) -> None:
    shelf = SqlShelf(rows)
    shelf.put(RECORDED[2], Effects())

    with pytest.raises(RefusedError):
        shelf.put(RECORDED[8], Effects())


def test_nothing_can_be_taken_from_an_empty_slot(rows: Rows) -> None:
    with pytest.raises(KeyError):
        SqlShelf(rows).take(3)


def test_a_replacement_is_read_from_the_correction(rows: Rows) -> None:
    SqlShelf(rows).put(RECORDED[8], Effects())
    found = SqlShelf(rows).at(2)

    assert found == RECORDED[8]
    assert found is not None
    assert (found.seq, found.slot, found.occurred_on) == (8, 2, DAYS[1])


def test_a_correction_that_voids_may_stand_in_the_slot_itself(rows: Rows) -> None:
    SqlShelf(rows).put(RECORDED[10], Effects())
    found = SqlShelf(rows).at(5)

    assert found == RECORDED[10]
    assert found is not None
    assert (found.seq, found.slot, found.kind) == (10, 5, "correction")


def test_no_question_reads_a_table_from_end_to_end(path: Path) -> None:
    """An answer takes as long as it is, however long the history."""
    asked: dict[str, Mapping[str, Value]] = {}
    engine = open_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        rows = rows_of(connection)

        def listening(sql: str, given: Mapping[str, Value] = NOTHING, /) -> list[Row]:
            asked[sql] = given
            return rows(sql, given)

        for entry in WRITTEN:
            append(listening, entry.raw, entry.disclosures)
        shelf = SqlShelf(listening)
        moved = Posting(TALLIES[0], DAY, 1, Cause.MADE)
        joined = Edge(LOTS[0], LOTS[1], 1)
        for found in RECORDED[:8]:
            shelf.put(found, Effects((), tuple(SUBJECTS), (moved,), (joined,)))
        answers(shelf)
        answers(SqlShelf(listening))
        shelf.take(3)
        plans = {
            (sql, step)
            for sql, given in asked.items()
            for *_, step in rows(f"EXPLAIN QUERY PLAN {sql}", given)
        }
    engine.dispose()
    # One row by declaration, or the rows that the question itself has found so far.
    allowed = {"SCAN CONSTANT ROW", "SCAN tree_head", "SCAN found"}

    assert len(asked) > 30
    assert {
        (sql, step)
        for sql, step in plans
        if "SCAN" in step
        and step not in allowed
        and "ORDER BY seq DESC LIMIT 1" not in sql
    } == set()


def test_a_sealed_value_is_read_until_it_is_erased(rows: Rows) -> None:
    SqlShelf(rows).put(RECORDED[1], Effects())
    whole = SqlShelf(rows).at(1)
    delete_disclosures(rows, map(disclosure_digest, WRITTEN[1].disclosures))
    erased = SqlShelf(rows).at(1)

    assert whole is not None
    assert erased is not None
    assert whole.record.model_dump()["legal_name"] == "Name of 1"
    assert "legal_name" not in erased.record.model_dump()


def test_derived_rows_are_read_whole_over_many_pages(rows: Rows) -> None:
    moved = tuple(
        Posting(TALLIES[n % 3], DAYS[n % 5], n, Cause.MADE) for n in range(1203)
    )
    SqlShelf(rows).put(RECORDED[0], Effects(postings=moved))

    found = [row for table, row in derived_rows(rows) if table == "posting"]
    assert found == rows(
        "SELECT book, key, day, slot, line, grams, cause FROM posting "
        "ORDER BY book, key, day, slot, line"
    )
    assert len(found) == 1203
