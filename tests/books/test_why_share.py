"""ledger.books.why_share: what each lot on the way went into."""

from ledger.books.asked import find_asked
from ledger.books.why_share import why_share
from tests.world import certified


def test_what_is_asked_about_went_into_nothing_and_the_rest_into_what_was_made() -> (
    None
):
    world = certified()
    world.receive({"L": "10"})
    batch = world.make({"L": "8"}, {"Q": "8"})

    why = why_share(world.shelf, find_asked(world.shelf, "Q"), "L")

    assert [line.text for line in why.workings[:2]] == [
        "[Q] liquor, asked about",
        f"[L] bean, went into Q (entry {batch})",
    ]
