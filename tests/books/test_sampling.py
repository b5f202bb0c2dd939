"""Sales are drawn by the tree head, so that the maker cannot choose them."""

from datetime import date
from hashlib import sha256

from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Recorded
from ledger.books.memory import MemoryShelf
from ledger.books.sampling import draw_sales, sampled_sales, ticket
from tests.desk.small_ledger import SMALL, shelf_of

SHELF = shelf_of(SMALL)
CLAIMED = {"S-0", "S-1", "S-3", "S-4", "S-5"}
ROOTS = st.binary(min_size=32, max_size=32)


def test_a_ticket_is_the_digest_of_tree_head_colon_and_number() -> None:
    """By hand: `printf %s 'TREE HEAD:7' | sha256sum`."""
    assert ticket(bytes(32), 7) == sha256(b"0" * 64 + b":7").hexdigest()


@given(root=ROOTS, count=st.integers(0, 9))
def test_only_sales_under_a_claim_that_count_are_drawn(root: bytes, count: int) -> None:
    drawn = sampled_sales(SHELF, root, count)

    assert set(drawn) <= CLAIMED
    assert len(drawn) == min(count, len(CLAIMED)) == len(set(drawn))


@given(root=ROOTS, count=st.integers(0, 5))
def test_drawing_more_keeps_what_was_drawn(root: bytes, count: int) -> None:
    assert sampled_sales(SHELF, root, count) == sampled_sales(SHELF, root, 5)[:count]


def test_every_sale_can_be_the_first_drawn() -> None:
    roots = (sha256(bytes([number])).digest() for number in range(60))

    assert {sampled_sales(SHELF, root, 1)[0] for root in roots} == CLAIMED


def test_later_sales_take_no_part() -> None:
    assert draw_sales(SHELF, bytes(32), 3, as_of=date(2026, 3, 31)) == ()


def test_an_empty_ledger_has_nothing_to_draw() -> None:
    assert draw_sales(MemoryShelf(), bytes(32), 3) == ()


def test_the_number_is_that_of_the_entry_that_counts() -> None:
    drawn = draw_sales(SHELF, bytes(32), 9)
    named: dict[str, Recorded | None] = {one.sale: SHELF.at(one.seq) for one in drawn}

    assert all(found is not None for found in named.values())
