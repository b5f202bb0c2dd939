"""What a forger who knows the format can do: change a pack and make its digests fit."""

import json
from base64 import urlsafe_b64encode
from collections.abc import Callable, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from ledger.audit.layout import LISTED_TAG_FILES
from ledger.chain.canonical import canonical_bytes
from ledger.chain.entry import GENESIS_PREV, leaf_digest
from ledger.chain.seal import disclosure_digest, parse_disclosure
from ledger.chain.tree import tree_root


def files_of(pack: Path) -> list[str]:
    """Return the names of all files, from the top of the pack."""
    found = (path for path in pack.rglob("*") if path.is_file())
    return sorted(path.relative_to(pack).as_posix() for path in found)


def bag_again(pack: Path) -> None:
    """Write the tag files anew, so that every digest fits."""
    payload = [name for name in files_of(pack) if name.startswith("data/")]
    (pack / "manifest-sha256.txt").write_text(_manifest(pack, payload))
    octets = sum((pack / name).stat().st_size for name in payload)
    info = (pack / "bag-info.txt").read_text().splitlines()
    oxum = f"Payload-Oxum: {octets}.{len(payload)}"
    info = [oxum if line.startswith("Payload-Oxum") else line for line in info]
    (pack / "bag-info.txt").write_text("\n".join(info) + "\n")
    tags = list(LISTED_TAG_FILES)
    tags = [name for name in tags if (pack / name).exists()]
    (pack / "tagmanifest-sha256.txt").write_text(_manifest(pack, tags))


def _manifest(pack: Path, names: Sequence[str]) -> str:
    lines = (
        f"{sha256((pack / name).read_bytes()).hexdigest()}  {name}" for name in names
    )
    return "".join(line + "\n" for line in lines)


def entries_of(pack: Path) -> list[dict[str, Any]]:
    """Return the entries as plain JSON."""
    lines = (pack / "data/entries.jsonl").read_bytes().splitlines()
    return [json.loads(line) for line in lines]


def chain_again(pack: Path, entries: Sequence[dict[str, Any]]) -> None:
    """Write entries anew with numbers, links, tree head and digests that fit."""
    prev, raws = GENESIS_PREV, []
    for seq, entry in enumerate(entries):
        raws.append(canonical_bytes({**entry, "seq": seq, "prev": prev}))
        prev = leaf_digest(raws[-1]).hex()
    (pack / "data/entries.jsonl").write_bytes(b"".join(raw + b"\n" for raw in raws))
    root = tree_root(map(leaf_digest, raws)).hex()
    head = canonical_bytes({"root": root, "size": len(raws)})
    (pack / "data/tree-head.json").write_bytes(head + b"\n")
    scope = json.loads((pack / "data/figures/scope.json").read_bytes())
    scope["entries"] = len(raws)
    (pack / "data/figures/scope.json").write_bytes(canonical_bytes(scope) + b"\n")
    bag_again(pack)


def resealed(pack: Path, seq: int, was: str, now: str) -> None:
    """Change the one sealed value of an entry, and make every digest fit.

    Args:
        pack: The pack.
        seq: Number of the entry.
        was: Text in the value as it is shown; it stands there.
        now: What stands there afterwards.
    """
    path = pack / "data/disclosures.jsonl"
    lines = [json.loads(line) for line in path.read_bytes().splitlines()]
    [shown] = [line for line in lines if line["seq"] == seq]
    value = parse_disclosure(shown["text"])
    text = json.dumps([value.salt, value.name, value.value])
    assert was in text
    changed = canonical_bytes(json.loads(text.replace(was, now, 1)))
    digest = disclosure_digest(shown["text"])
    shown["text"] = urlsafe_b64encode(changed).decode().rstrip("=")
    path.write_bytes(b"".join(canonical_bytes(line) + b"\n" for line in lines))
    entries = entries_of(pack)
    entry = json.dumps(entries[seq])
    assert digest in entry
    entries[seq] = json.loads(entry.replace(digest, disclosure_digest(shown["text"])))
    chain_again(pack, entries)


def edited(pack: Path, name: str, edit: Callable[[bytes], bytes]) -> None:
    """Change one file and leave every digest as it was."""
    path = pack / name
    path.write_bytes(edit(path.read_bytes()))
