"""Dues of random contracts, computed a second time by a reading written apart."""

from hypothesis import given, settings

from ledger.books.dues import ContractDues
from tests.books.buying_world import CONTRACT, BuyingWorld
from tests.books.naive_dues import Sums, naive_dues
from tests.books.random_buying import Days, worlds
from tests.books.random_published import contracts


@settings(max_examples=100, deadline=None)
@given(world=worlds(), as_of=Days)
def test_both_readings_agree_to_the_cent(world: BuyingWorld, as_of: str) -> None:
    assert_agree(world, as_of)


@settings(max_examples=60, deadline=None)
@given(world=contracts(), as_of=Days)
def test_they_agree_under_the_terms_files_of_the_docs(
    world: BuyingWorld, as_of: str
) -> None:
    assert_agree(world, as_of)


def assert_agree(world: BuyingWorld, as_of: str) -> None:
    [(signed, _)] = [
        (on, body) for kind, on, body in world.bodies if kind == "contract.signed"
    ]
    day = max(as_of, signed)

    dues = world.dues(day)

    assert naive_dues(world.bodies, day, CONTRACT) == sums_of(dues)


def sums_of(dues: ContractDues) -> dict[tuple[str, str], Sums]:
    """Return what the books say, in the shape of the second reading."""
    return {
        (str(part.duty), part.payee): Sums(
            part.owed_minor,
            part.is_complete,
            part.outstanding_minor,
            part.overpaid_minor,
        )
        for part in dues.settlements
    }
