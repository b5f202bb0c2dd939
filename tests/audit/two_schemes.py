"""A small ledger under two schemes, and packs of parts of it. Everything is invented."""

from pathlib import Path
from typing import Any

from ledger.books.portion import Portion
from ledger.desk.pack import Packed, make_pack
from ledger.trade.profile import Profile
from tests.desk.small_ledger import (
    AS_OF,
    BOUGHT,
    CERTIFICATES,
    MADE_AT,
    SMALL,
    TERMS,
    Step,
    opened,
    sold,
)


def _of_lake(step: Step) -> Step:
    """Return the same under the other scheme, with names of its own."""
    kind, day, body = step
    more: dict[str, Any] = {
        name: f"{body[name]}-lake"
        for name in ("contract", "shipment", "payment", "certificate")
        if name in body
    }
    if "scheme" in body:
        more["scheme"] = "lake"
    if "claims" in body:
        more["claims"] = [{"scheme": "lake", "custody": "mass balance"}]
    if "lots" in body:
        more["lots"] = [{**body["lots"][0], "lot": "K-1"}]
    return kind, day, {**body, **more}


LAKE_SALE: Step = (
    "sale.dispatched",
    "2026-04-02",
    {
        "sale": "S-lake",
        "document": "INV lake",
        "customer": "shop-3",
        "lines": [
            {
                "lot": "K-1",
                "mass_kg": "120.000",
                "claims": [{"scheme": "lake", "custody": "mass balance"}],
            }
        ],
    },
)
TWO_SCHEMES: tuple[Step, ...] = (
    *SMALL,
    _of_lake(TERMS),
    *(_of_lake(step) for step in CERTIFICATES),
    *(_of_lake(step) for step in BOUGHT),
    LAKE_SALE,
    sold(7, "15.000"),
)
"""What the small ledger holds under the scheme river, and the like under lake."""

RIVER = Portion(scheme="river")
LAKE = Portion(scheme="lake")


def part_of(
    ledger: Path, out: Path, portion: Portion | None, profile: Profile | None = None
) -> Packed:
    """Write a pack of a part of a ledger."""
    with opened(ledger) as rows:
        return make_pack(
            rows,
            out=out,
            as_of=AS_OF if portion is None else portion.until or AS_OF,
            made_at=MADE_AT,
            made_by="clerk",
            portion=portion,
            profile=profile,
        )


def lines_of(pack: Path) -> list[bytes]:
    """Return the lines of the file of entries."""
    return (pack / "data/entries.jsonl").read_bytes().splitlines()


def place_of(pack: Path, *texts: str) -> int:
    """Return the number of the first entry shown whose line holds some texts."""
    for seq, line in enumerate(lines_of(pack)):
        if all(text.encode() in line for text in texts):
            return seq
    raise LookupError(texts)
