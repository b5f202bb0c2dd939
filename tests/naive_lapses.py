"""What lapses with closed periods, read naively: everything on the day it belongs to.

Part of the second reading in `tests.naive`; like it, it imports nothing of the product.
"""

from collections import defaultdict
from collections.abc import Callable

from tests.naive_ages import recent
from tests.naive_time import days, ends, months_before
from tests.naive_trade import Body, Entry, Key, Post

Lapses = dict[int, list[Post]]


def lapses(
    posts: dict[int, list[Post]],
    counts: dict[int, Entry],
    closes: list[int],
    terms_of: Callable[[str, str], Body | None],
) -> Lapses:
    """Return what lapses with each of the closed periods, as everything counts now."""
    seen = _in_hindsight(posts, counts)
    keys = sorted(
        {
            post.key
            for some in posts.values()
            for post in some
            if post.key[0] == "account"
        }
    )
    found: Lapses = {slot: [] for slot in closes}
    for number, slot in enumerate(closes):
        start = counts[slot].body["start"] if number else _first_day(seen)
        for end in _month_ends(start, counts[slot].body["end"]):
            too_old = [
                (key, _too_old(seen, counts, key, end, terms_of)) for key in keys
            ]
            found[slot] += [
                Post(k, end, -old, "lapsed") for k, old in too_old if old > 0
            ]
            seen[slot] = list(found[slot])
    return found


def _first_day(seen: dict[int, list[Post]]) -> str:
    """Return the first day on which an account moves; one that never comes if none."""
    moved = (post for some in seen.values() for post in some)
    return min((post.on for post in moved if post.key[0] == "account"), default="9999")


def _too_old(
    seen: dict[int, list[Post]],
    counts: dict[int, Entry],
    key: Key,
    end: str,
    terms_of: Callable[[str, str], Body | None],
) -> int:
    terms = terms_of(key[1].split("|")[0], end)
    if terms is None or not ends(terms, end):
        return 0
    since = months_before(
        end, terms.get("reconciliation_months", 12) * terms.get("carry_over_periods", 1)
    )
    receipts = {
        slot
        for slot, one in counts.items()
        if one.kind == "shipment.received" and since <= one.on <= end
    }
    standing = sum(
        post.grams
        for some in seen.values()
        for post in some
        if post.key == key and post.on <= end
    )
    return standing - recent(seen, key, since, end, receipts=receipts)


def _month_ends(start: str, last: str) -> list[str]:
    if start > last:
        return []
    return [day for day in days(start, last) if months_before(day, 0).endswith("-01")]


def _in_hindsight(
    posts: dict[int, list[Post]], counts: dict[int, Entry]
) -> dict[int, list[Post]]:
    """Return all that still counts, with what landed later on the day of its entry."""
    found: dict[int, list[Post]] = defaultdict(list)
    for slot, some in posts.items():
        entry = counts.get(slot)
        if entry is None or entry.kind == "period.closed":
            continue
        replaced = entry.seq != slot
        found[slot] = [
            post._replace(on=entry.on)
            if replaced or post.cause in {"corrected", "written off"}
            else post
            for post in some
        ]
    return found
