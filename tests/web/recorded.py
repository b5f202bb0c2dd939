"""What is recorded: the entries as they are stored, and every text that they tell."""

import json
import re
from collections.abc import Iterator

from ledger.chain.canonical import JsonValue
from ledger.chain.seal import parse_disclosure
from ledger.store.rows import Rows


def stored(rows: Rows) -> tuple[list[bytes], list[tuple[int, str]]]:
    return (
        [bytes(raw) for (raw,) in rows("SELECT raw FROM entry ORDER BY seq")],
        [
            (seq, text)
            for seq, text in rows("SELECT seq, text FROM disclosure ORDER BY seq, text")
        ],
    )


def words(value: JsonValue) -> Iterator[str]:
    """Every text in a value that names something, unlike a number or an English word."""
    if isinstance(value, str):
        is_plain = value.isalpha() and value.islower()
        if re.search("[A-Za-z]{3}", value) and len(value) > 5 and not is_plain:
            yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from words(part)
    elif isinstance(value, list):
        for part in value:
            yield from words(part)


def words_in(rows: Rows) -> set[str]:
    """Every text that entries and what opens them tell."""
    raws, disclosures = stored(rows)
    found = {word for raw in raws for word in words(json.loads(raw)["body"])}
    for _, text in disclosures:
        found.update(words(parse_disclosure(text).value))
    return found
