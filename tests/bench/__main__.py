"""Print ratios: what the program takes, against the least that the same work can take.

Run with `make bench`. Machines are noisy, so every figure is a median of several runs,
and only the ratio to the bound of the same run means anything.
"""

import hashlib
import json
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from ledger import wiring
from ledger.wiring import Place

ROOT = Path(__file__).parents[2]
COMMAND = (sys.executable, "-m", "ledger.cli")


@dataclass(frozen=True)
class Measured:
    """One comparison, in seconds."""

    what: str
    took: float
    bound_is: str
    bound: float

    def __str__(self) -> str:
        ratio = self.took / self.bound
        return (
            f"{self.what:<44}{self.took * 1000:>10.0f} ms   {ratio:>6.1f} x "
            f"{self.bound_is} ({self.bound * 1000:.0f} ms)"
        )


def median_of(
    work: Callable[[], object],
    times: int = 5,
    *,
    clock: Callable[[], float] = time.perf_counter,
) -> float:
    """Return the median of several timings of some work, in seconds."""
    taken = []
    for _ in range(times):
        start = clock()
        work()
        taken.append(clock() - start)
    return statistics.median(taken)


def run(*words: object) -> None:
    """Run a command and wait for it."""
    subprocess.run([*map(str, words)], check=True, capture_output=True, cwd=ROOT)


def processes_clock() -> float:
    """Return the processor's time of all processes that were started and ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def cold_starts(ledger: Path) -> list[Measured]:
    """Whole processes, against an interpreter that does nothing: processor's time."""
    clock = processes_clock
    bare = median_of(lambda: run(sys.executable, "-c", "pass"), 9, clock=clock)
    bound = "a bare interpreter"
    asked = {
        "evenweight --help": ("--help",),
        "evenweight balance": ("balance", "--ledger", ledger),
        "evenweight trace SALE": ("trace", "SA-0122", "--ledger", ledger),
        "evenweight dues": ("dues", "--ledger", ledger),
    }
    return [
        Measured(
            what, median_of(partial(run, *COMMAND, *words), 9, clock=clock), bound, bare
        )
        for what, words in asked.items()
    ]


def raw_entries(ledger: Path) -> list[bytes]:
    """Return the stored bytes of every entry."""
    with sqlite3.connect(ledger) as connection:
        return [
            raw for (raw,) in connection.execute("SELECT raw FROM entry ORDER BY seq")
        ]


def durable_inserts(raws: list[bytes], folder: Path, *, at_a_time: int) -> None:
    """Write the same bytes into a bare table, each group durable."""
    path = folder / "bare.db"
    path.unlink(missing_ok=True)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute(
        "CREATE TABLE entry (seq INTEGER PRIMARY KEY, leaf BLOB, raw BLOB)"
    )
    for start in range(0, len(raws), at_a_time):
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany(
            "INSERT INTO entry VALUES (?, ?, ?)",
            [
                (start + place, hashlib.sha256(b"\0" + raw).digest(), raw)
                for place, raw in enumerate(raws[start : start + at_a_time])
            ],
        )
        connection.execute("COMMIT")
    connection.close()


def read_and_hash(ledger: Path) -> None:
    """Read and hash every entry: the least that verifying can do."""
    for raw in raw_entries(ledger):
        hashlib.sha256(b"\0" + raw).digest()


def read_hash_and_parse(pack: Path) -> None:
    """Read and hash every file of a pack, and parse its entries once."""
    for path in pack.rglob("*"):
        if path.is_file():
            hashlib.sha256(path.read_bytes()).digest()
    with (pack / "data" / "entries.jsonl").open("rb") as entries:
        for line in entries:
            json.loads(line)


def write_pack(place: Place, pack: Path) -> None:
    """Write a pack without reports, as a folder."""
    from ledger.desk.pack import make_pack

    moment = wiring.now()
    with wiring.reading(place) as rows:
        make_pack(rows, out=pack, as_of=moment.date(), made_at=moment, made_by="bench")


def whole_jobs(ledger: Path, folder: Path) -> list[Measured]:
    """Recording, rebuilding, verifying and checking the scenario."""
    from ledger.desk.check import check_pack_at
    from ledger.desk.rebuild import rebuild
    from ledger.desk.verify import verify

    place = wiring.place_of(str(ledger))
    raws = raw_entries(ledger)
    pack = folder / "pack"

    def record() -> None:
        # A folder of its own each time: a key that lies there is never overwritten.
        with tempfile.TemporaryDirectory(dir=folder) as new:
            path = Path(new) / "ledger.db"
            run(*COMMAND, "record", "sample_shipments", "--ledger", path, "--quiet")

    def verify_whole() -> None:
        with wiring.reading(place) as rows:
            verify(rows)

    def rebuild_whole() -> None:
        with (
            wiring.writing(place, by="bench") as opened,
            opened.transaction() as writing,
        ):
            rebuild(writing)

    write_pack(place, pack)
    inserts = median_of(lambda: durable_inserts(raws, folder, at_a_time=4))
    hashing = median_of(lambda: read_and_hash(ledger))
    parsing = median_of(lambda: read_hash_and_parse(pack))
    count = len(raws)
    return [
        Measured(
            f"record the scenario, {count} entries",
            median_of(record, 3),
            "bare durable inserts",
            inserts,
        ),
        Measured(
            f"rebuild, {count} entries",
            median_of(rebuild_whole, 3),
            "read and hash",
            hashing,
        ),
        Measured(
            f"verify, {count} entries",
            median_of(verify_whole),
            "read and hash",
            hashing,
        ),
        Measured(
            f"check a pack of {count} entries",
            median_of(lambda: check_pack_at(pack), 3),
            "read, hash and parse once",
            parsing,
        ),
    ]


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        ledger = folder / "ledger.db"
        run(*COMMAND, "record", "sample_shipments", "--ledger", ledger, "--quiet")
        for measured in (*cold_starts(ledger), *whole_jobs(ledger, folder)):
            print(measured, flush=True)


if __name__ == "__main__":
    main()
