"""Check a pack of a hundred thousand entries: time against the least it can take, memory.

Run with `make bench-large`, or `python -m tests.bench.large ENTRIES...`. A maker of bars
is invented, who buys a lot, grinds it into a tank that still holds some of the last, and
sells from it, some twenty times a day for years. Each size is checked in a process of its
own, so that the memory it took at most can be told. Times are those of the processor, so
that what else runs on the machine counts less.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

from ledger.audit.layout import Scope, TreeHead
from ledger.audit.writing import Contents, write_pack
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry
from ledger.chain.entry import GENESIS_PREV, Entry, entry_bytes, leaf_digest
from ledger.chain.seal import seal
from ledger.chain.tree import Frontier
from ledger.trade.kinds import sealed_fields
from tests.bench.__main__ import ROOT, Measured, median_of, read_hash_and_parse
from tests.desk.small_ledger import (
    BOUGHT,
    CERTIFICATES,
    COOPERATIVE,
    CUSTOMERS,
    OPENED,
    TERMS,
)

SIZES = (10_000, 30_000, 100_000)
FIRST_DAY = date(2021, 1, 4)
LAST_DAY = date(2026, 6, 30)
FILLS = 20
"""How often a tank is filled before it is emptied and cleaned."""
CONTRACT_KG = 50_000
"""What one contract is for; a lot of it comes with each shipment."""

Body = dict[str, Any]
Step = tuple[str, date, Body]
CLAIM = {"scheme": "river", "custody": "mass balance"}


def steps(entries: int) -> Iterator[Step]:
    """Yield what is recorded, in order, evenly spread over the years."""
    reference = (OPENED, COOPERATIVE, *CUSTOMERS, TERMS)
    for kind, _, body in reference:
        yield kind, FIRST_DAY, body
    for kind, _, body in CERTIFICATES:
        yield (
            kind,
            FIRST_DAY,
            {**body, "valid_from": "2020-01-01", "valid_until": "2030-12-31"},
        )
    left = entries - len(reference) - len(CERTIFICATES)
    span = (LAST_DAY - FIRST_DAY).days
    for number, (kind, body) in enumerate(trade()):
        if number == left:
            return
        yield kind, FIRST_DAY + timedelta(days=number * span // left), body


def trade() -> Iterator[tuple[str, Body]]:
    """Yield purchases, fills of a tank and sales without end."""
    _, _, body = BOUGHT[0]
    contract = ""
    for cycle in count():
        if cycle * 1000 % CONTRACT_KG == 0:
            contract = f"C-{cycle}"
            yield (
                "contract.signed",
                {**body, "contract": contract, "quantity_kg": f"{CONTRACT_KG}.000"},
            )
        yield from bought(contract, cycle)
        yield from filled(cycle)
        for number in range(7):
            yield "sale.dispatched", sold(cycle, number)


def bought(contract: str, cycle: int) -> Iterator[tuple[str, Body]]:
    """Yield a shipment of one lot, and what is paid for it."""
    lot = {
        "lot": f"L-{cycle}",
        "net_shipped_kg": "1000.000",
        "net_landed_kg": "990.500",
    }
    yield (
        "shipment.received",
        {"shipment": f"SH-{cycle}", "contract": contract, "lots": [lot]},
    )
    yield (
        "payment.made",
        {
            "payment": f"PAY-{cycle}",
            "contract": contract,
            "payee": "coop",
            "towards": "price",
            "money": {"amount": "3070.55", "currency": "USD"},
            "document": f"bank {cycle}",
            "shipment": f"SH-{cycle}",
        },
    )


def filled(cycle: int) -> Iterator[tuple[str, Body]]:
    """Yield the fill of a tank that holds 90 kg of the fill before, unless cleaned."""
    fresh = cycle % FILLS == 0
    rest = [] if fresh else [{"lot": f"T-{cycle - 1}", "mass_kg": "90.000"}]
    whole = "790.000" if fresh else "880.000"
    yield (
        "batch.made",
        {
            "batch": f"B-{cycle}",
            "step": "grind",
            "inputs": [{"lot": f"L-{cycle}", "mass_kg": "990.500"}, *rest],
            "outputs": [{"lot": f"T-{cycle}", "form": "liquor", "mass_kg": whole}],
            "losses": [{"reason": "shell", "mass_kg": "200.500"}],
        },
    )


def sold(cycle: int, number: int) -> Body:
    """Return a sale of liquor; the last of a fill is sold without a claim."""
    return {
        "sale": f"S-{cycle}-{number}",
        "document": f"INV {cycle}/{number}",
        "customer": f"shop-{number % 5}",
        "lines": [
            {
                "lot": f"T-{cycle}",
                "mass_kg": "98.000",
                "claims": [] if number == 6 else [CLAIM],
            }
        ],
        "value": {"amount": "990.00", "currency": "CHF"},
    }


def make_large_pack(out: Path, entries: int) -> None:
    """Write a pack of so many entries, judged one after another as they are made."""
    shelf, tree, prev = MemoryShelf(), Frontier(), GENESIS_PREV
    raws: list[bytes] = []
    shown: list[tuple[int, str]] = []
    salts = (number.to_bytes(16, "big") for number in count(1))
    for seq, (kind, day, body) in enumerate(steps(entries)):
        paths = [name for name in sealed_fields(kind) if name in body]
        sealed = seal(body, paths, new_salt=lambda: next(salts))
        moment = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
        entry = Entry(seq, prev, kind, day, moment, "clerk", sealed.body)
        raw = entry_bytes(entry)
        judge(shelf, open_entry(entry, sealed.disclosures.values()))
        raws.append(raw)
        prev = leaf_digest(raw).hex()
        tree = tree.with_leaf(leaf_digest(raw))
        if "price" in sealed.disclosures:
            shown.append((seq, sealed.disclosures["price"]))
    made_at = datetime(2026, 7, 1, 8, tzinfo=UTC)
    contents = Contents(
        organisation="Invented Maker",
        scope=Scope(LAST_DAY, made_at, "bench", entries),
        head=TreeHead(tree.size, tree.root()),
        entries=raws,
        disclosures=shown,
        shelf=shelf,
    )
    write_pack(contents, out)


def most_memory_kb() -> int:
    """Return the most memory that this process had so far, as Linux tells it."""
    # What `resource` tells begins with the memory of the process that started this one.
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1])
    return 0


def check_alone(pack: Path) -> None:
    """Check a pack, and print as JSON what that took."""
    from ledger.desk.check import check_pack_at

    before = most_memory_kb()
    start = time.process_time()
    verdict = check_pack_at(pack)
    took = time.process_time() - start
    peak = most_memory_kb()
    told = {"holds": verdict.holds, "took": took, "before_kb": before, "peak_kb": peak}
    print(json.dumps(told))


def checked(pack: Path) -> dict[str, Any]:
    """Check a pack in a process of its own, and return what that took."""
    command = (sys.executable, "-m", "tests.bench.large", "--check", str(pack))
    done = subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def main(sizes: tuple[int, ...]) -> None:
    """Make, check and compare packs of some sizes."""
    with tempfile.TemporaryDirectory() as scratch:
        pack = Path(scratch)
        for entries in sizes:
            pack = Path(scratch) / str(entries)
            make_large_pack(pack, entries)
            bound = median_of(
                partial(read_hash_and_parse, pack), clock=time.process_time
            )
            found = checked(pack)
            what = f"check a pack of {entries} entries"
            print(Measured(what, found["took"], "read, hash and parse once", bound))
            print(
                f"{'':<44}{found['peak_kb'] / 1024:>10.0f} MiB at most, "
                f"{found['before_kb'] / 1024:.0f} MiB before; holds: {found['holds']}",
                flush=True,
            )
        print_readers(pack)


def print_readers(pack: Path) -> None:
    """Print what the readers that every pack encloses take for it."""
    # Not above, so that the process that checks a pack does not hold a browser's driver.
    from tests.bench.readers import by_file, by_page

    file = by_file(pack)
    print(
        f"{'the same by verify.py':<44}{file.seconds * 1000:>10.0f} ms   "
        f"{file.most_kb / 1024:.0f} MiB at most; status {file.status}",
        flush=True,
    )
    page = by_page(pack)
    if page is None:
        print("there is no browser to try look.html in")
        return
    print(
        f"{'the same by look.html, on the clock':<44}{page.seconds * 1000:>10.0f} ms   "
        f"{page.heap_mb:.0f} MB of heap; stood still for {page.standstill:.1f} s at most; "
        f"{page.verdict}"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--check"]:
        check_alone(Path(sys.argv[2]))
    else:
        main(tuple(map(int, sys.argv[1:])) or SIZES)
