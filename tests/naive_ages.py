"""How much of an account came in lately, read naively: what moves keeps its age.

Part of the second reading in `tests.naive`; like it, it imports nothing of the product.
"""

from collections import defaultdict

from tests.naive_trade import Key, Post

MOVED = ("transferred", "converted")


def recent(
    all_posts: dict[int, list[Post]],
    wanted: Key,
    since: str,
    end: str,
    *,
    receipts: set[int],
) -> int:
    """Return the grams of an account that some receipts brought in a stretch of time.

    All accounts between which they may have moved are followed side by side: what is
    taken out to be moved is the oldest that is there.
    """
    scheme, commodity = wanted[1].split("|")[:2]
    ordered: list[tuple[str, int, int, Post]] = [
        (post.on, slot, place, post)
        for slot, posts in all_posts.items()
        for place, post in enumerate(posts)
        if post.key[0] == "account"
        and post.key[1].split("|")[:2] == [scheme, commodity]
    ]
    holds: dict[Key, int] = defaultdict(int)
    young: dict[Key, int] = defaultdict(int)
    carried: dict[int, tuple[int, int]] = {}
    for on, slot, _, post in sorted(ordered):
        if since <= on <= end:
            if slot in receipts:
                young[post.key] += post.grams
            elif post.cause in MOVED and post.grams < 0:
                old = max(0, holds[post.key] - young[post.key])
                carried[slot] = max(0, -post.grams - old), -post.grams
                young[post.key] -= carried[slot][0]
            elif post.cause in MOVED and carried.get(slot, (0, 0))[1]:
                of_it, all_of_it = carried[slot]
                young[post.key] += post.grams * of_it // all_of_it
        if on <= end:
            holds[post.key] += post.grams
    return young[wanted]
