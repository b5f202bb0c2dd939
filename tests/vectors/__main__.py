"""Write the examples to docs/reference/vectors/. Run with `make vectors`."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

from ledger.audit.layout import PACK_VERSION
from tests.vectors import packs, record, signing
from tests.vectors.packs import as_json

FOLDER: Final = Path(__file__).parents[2] / "docs" / "reference" / "vectors"

_TEXTS: Final[dict[str, dict[str, Callable[[], Iterator[record.Vector]]]]] = {
    "canonical-json": {"cases": record.canonical},
    "entries": {"record": record.entries, "refused": record.not_entries},
    "tree": {"inclusion": record.inclusion, "consistency": record.consistency},
    "sealed-values": {"cases": record.sealed},
    "tickets": {"cases": record.tickets},
    "signing": {
        "keys": signing.keys,
        "checkpoints": signing.notes,
        "rotations": signing.rotations,
        "consistency_files": signing.extensions,
        "receipts": signing.receipts,
    },
}


def written() -> dict[str, str]:
    """Return every file of examples by its name."""
    found: dict[str, dict[str, object]] = {
        name: {part: list(cases()) for part, cases in parts.items()}
        for name, parts in _TEXTS.items()
    }
    spoiled: dict[str, object] = {
        "whole": packs.whole_texts(),
        "cases": list(packs.packs()),
    }
    around: dict[str, object] = {
        "whole": packs.about_zip(),
        "cases": list(packs.zips()),
    }
    every = {**found, "packs": spoiled, "zips": around}
    return {
        f"{name}.json": as_json({"pack_format": PACK_VERSION, **parts})
        for name, parts in every.items()
    }


def main() -> None:
    """Write them all, and nothing else."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in written().items():
        (FOLDER / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
