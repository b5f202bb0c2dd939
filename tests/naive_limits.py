"""Where accounts stand too low, and what may be claimed of what is sold, read naively.

Part of the second reading in `tests.naive`; like it, it imports nothing of the product.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from tests.naive import Naive
from tests.naive_accounts import family
from tests.naive_time import days, ends, window
from tests.naive_trade import Key, Post, grams


def is_short(reading: Naive, key: Key) -> bool:
    """Tell whether an account fell below its floor, or a period ended unsettled."""
    return fell_below(reading, key) or is_unsettled(reading, key)


def fell_below(reading: Naive, key: Key) -> bool:
    """Tell whether an account was below zero on a day, or what the day's terms allow."""
    scheme = key[1].split("|")[0]
    for on, stood in reading.lowest(key).items():
        terms = reading.terms(scheme, on) or {}
        limit = grams(terms.get("account", {}).get("below_zero_kg", "0"))
        if stood < -limit:
            return True
    return False


def is_unsettled(reading: Naive, key: Key) -> bool:
    """Tell whether a period ended below zero, and was over before the last movement."""
    scheme = key[1].split("|")[0]
    moved = reading.lowest(key)
    for on in days(min(moved), max(moved))[:-1]:
        terms = reading.terms(scheme, on) or {}
        allows = "below_zero_kg" in terms.get("account", {})
        if allows and ends(terms, on) and reading.closing(key, on) < 0:
            return True
    return False


class Percentages(NamedTuple):
    """Grams of bean equivalent over the window that ends with a day."""

    came_in: int
    certified: int
    sold: int
    claimed: int

    def excess(self) -> Fraction:
        """Return grams claimed beyond the certified part of what came in."""
        part = (
            Fraction(self.certified, self.came_in) if self.came_in > 0 else Fraction(0)
        )
        return self.claimed - min(Fraction(1), max(Fraction(0), part)) * self.sold


def _averaged_months(reading: Naive, name: str, on: str) -> int:
    terms = reading.terms(name.split("|", maxsplit=1)[0], on) or {}
    return int(terms.get("window_months") or 0)


def _in_window(reading: Naive, name: str, on: str) -> Iterator[tuple[int, Post]]:
    """Yield what moved an account, or all that came in or was sold, with its slot.

    On days that are not averaged nobody counts all that comes in.
    """
    since = window(on, _averaged_months(reading, name, on))
    for slot, posts in reading.posts.items():
        for post in posts:
            book, key = post.key
            if (
                book != "stock"
                and family(key) == name
                and since <= post.on <= on
                and _averaged_months(reading, name, post.on)
            ):
                yield slot, post


def percentages(reading: Naive, name: str, on: str) -> Percentages | None:
    """Return what an account averages on a day, or None where its terms do not."""
    if not _averaged_months(reading, name, on):
        return None
    found = {"input": 0, "certified": 0, "output": 0, "claimed": 0}
    for slot, post in _in_window(reading, name, on):
        book = post.key[0]
        if book != "account":
            found[book] += post.grams
        elif reading.kinds[slot] == "shipment.received":
            found["certified"] += post.grams
        elif reading.kinds[slot] in {
            "sale.dispatched",
            "sale.returned",
            "claim.withdrawn",
        }:
            found["claimed"] -= post.grams * (post.cause != "converted")
    return Percentages(
        found["input"], found["certified"], found["output"], found["claimed"]
    )
