"""Many writers, and writers that die: nothing is lost, nothing is numbered twice."""

import subprocess
import sys
from itertools import islice

import pytest
from sqlalchemy import Engine

from ledger.chain.entry import leaf_digest, parse_entry
from ledger.chain.link import check_links
from ledger.chain.tree import tree_root
from ledger.store.engine import open_engine, reading, rows_of
from ledger.store.entries import append, frontier, stream_raws
from tests.store.sample import chain

WRITERS, EACH = 4, 25
KILLS = 4


def writer(url: str, name: str, *length: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.store.appender", url, name, *length],
        stdout=subprocess.PIPE,
        text=True,
    )


def whole_chain(url: str) -> list[bytes]:
    """Every entry, after all that can be checked about them has been."""
    with reading(url) as rows:
        raws = list(stream_raws(rows))
        tree = frontier(rows)
    assert [link.breaks for link in check_links(raws)] == [()] * len(raws)
    assert (tree.size, tree.root()) == (len(raws), tree_root(map(leaf_digest, raws)))
    return raws


@pytest.fixture
def opened(url: str) -> str:
    """A ledger with its first entry."""
    engine: Engine = open_engine(url)
    with engine.begin() as connection:
        append(rows_of(connection), chain(1)[0].raw)
    engine.dispose()
    return url


def test_writers_at_the_same_time_lose_nothing(opened: str) -> None:
    writers = [writer(opened, f"W{n}", str(EACH)) for n in range(WRITERS)]
    said = [int(line) for w in writers for line in w.communicate()[0].splitlines()]

    assert [w.returncode for w in writers] == [0] * WRITERS
    assert sorted(said) == list(range(1, WRITERS * EACH + 1))
    raws = whole_chain(opened)
    lots = [str(parse_entry(raw).body["lot"]) for raw in raws[1:]]
    assert [sum(lot.startswith(f"W{n}-") for lot in lots) for n in range(WRITERS)] == [
        EACH
    ] * WRITERS


def test_a_killed_writer_leaves_a_whole_chain(opened: str) -> None:
    """What was said to be recorded is there. SIGKILL is a crash, not a power cut."""
    last = 0
    for kill in range(KILLS):
        with writer(opened, f"K{kill}") as killed:
            assert killed.stdout is not None
            # Each time at another place in the course of an entry.
            said = list(islice(killed.stdout, 3 + 5 * kill))
            killed.kill()
            said += killed.stdout.readlines()
        numbers = [int(line) for line in said if line.endswith("\n")]

        assert numbers == list(range(last + 1, last + 1 + len(numbers)))
        recorded = len(whole_chain(opened)) - 1
        # One more may be recorded than the writer came to say.
        assert recorded in {numbers[-1], numbers[-1] + 1}
        last = recorded
