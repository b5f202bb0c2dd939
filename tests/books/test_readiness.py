"""ledger.books.readiness and audit_point: whether an audit could be passed, and why not."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from ledger.books.audit_point import Point, Topic, Verdict, points_of, verdict_of
from ledger.books.readiness import Readiness, Signed, readiness
from tests.world import World, batch_body, certified, claim

ON = date(2025, 6, 30)
IN_ORDER = Signed(entries=10, covered=10, seen=10, seen_by="accountant.example")


@pytest.fixture
def world() -> World:
    """A maker in order: beans received and paid for, a little sold under a claim."""
    world = certified()
    world.receive({"L": "1000"}, "2025-06-01")
    world.receive({"P": "1000"}, "2025-06-01", contract="PLAIN")
    world.sell("V", {"L": "10"}, "2025-06-10", claim())
    return world


def asked(world: World, signed: Signed = IN_ORDER) -> Readiness:
    return readiness(world.shelf, ON, signed)


def points(world: World, signed: Signed = IN_ORDER) -> tuple[Point, ...]:
    return points_of(asked(world, signed))


def told(world: World, topic: Topic) -> list[tuple[bool, str]]:
    return [(p.is_against, p.sentence) for p in points(world) if p.topic is topic]


def test_a_maker_in_order_would_pass(world: World) -> None:
    assert points(world) == ()
    assert verdict_of(points(world)) is Verdict.YES


def overdrawn(world: World) -> None:
    world.sell("W", {"P": "900"}, "2025-06-11", claim())
    world.stop("alder/fairfield", "2025-06-20", from_on="2025-01-01")


def uncertified(world: World) -> None:
    world.stop("weirside/fairfield", "2025-06-20")


def suspended(world: World) -> None:
    world.stop("birch/fairfield", "2025-06-20")


def nearly_sold_out(world: World) -> None:
    world.sell("W", {"P": "900"}, "2025-06-11", claim())


def on_hold(world: World) -> None:
    world.record("hold.placed", "2025-06-20", hold="H-1", lots=["P"], reason="mould")


def counted_short(world: World) -> None:
    world.record(
        "lot.counted", "2025-06-20", lot="P", found_kg="900", counted_by="floor"
    )


@pytest.mark.parametrize(
    ("spoil", "topic", "is_against", "words"),
    [
        (overdrawn, Topic.BREACHES, True, "certified receipts cover: 1."),
        (uncertified, Topic.CERTIFICATES, True, "counts under fairfield."),
        (suspended, Topic.CERTIFICATES, False, "birch is suspended from 2025-06-20."),
        (nearly_sold_out, Topic.ACCOUNTS, False, "runs out on 2025-07-03."),
        (on_hold, Topic.HOLDS, False, "Lots on hold: 1."),
        (counted_short, Topic.MASSES, False, "beyond their tolerance: 1."),
    ],
)
def test_what_is_wrong_is_told_with_its_weight(
    world: World,
    spoil: Callable[[World], None],
    topic: Topic,
    words: str,
    *,
    is_against: bool,
) -> None:
    spoil(world)

    [(told_against, sentence)] = told(world, topic)
    assert told_against is is_against
    assert words in sentence
    expected = Verdict.NO if is_against else Verdict.EXPLAIN
    assert verdict_of(points(world)) is expected


def test_what_was_paid_late_is_told_for_a_year() -> None:
    """Due 30 days after receipt; of what was paid late, the last 365 days are looked at."""
    world = certified()
    for name, received_on, paid_on in (
        ("long-ago", "2024-04-01", "2024-06-30"),
        ("a-year-ago", "2024-04-01", "2024-07-01"),
        ("in-time", "2025-05-01", "2025-05-20"),
    ):
        world.sign(name, "alder", claim())
        world.receive({name: "1000"}, received_on, contract=name)
        world.record(
            "payment.made",
            paid_on,
            payment=name,
            contract=name,
            payee="alder",
            towards="price",
            money={"amount": "3000", "currency": "USD"},
            document="bank",
        )

    assert [line.contract for line in asked(world).paid_late] == ["a-year-ago"]


def test_unusual_batches_are_told_up_to_the_day_itself(world: World) -> None:
    world.record(
        "limits.published",
        version="1",
        valid_from="2024-01-01",
        limits=[{"step": "roast", "measure": "hours", "highest": "1", "source": "us"}],
    )
    for batch, on in (("today", "2025-06-30"), ("tomorrow", "2025-07-01")):
        body = batch_body(batch, {"P": "10"}, {f"{batch}-lot": "10"}, step="roast")
        world.record("batch.made", on, **body, record={"hours": "2"})

    assert asked(world).flagged_batches == ("today",)


def test_what_stands_against_comes_first(world: World) -> None:
    on_hold(world)
    uncertified(world)

    assert [point.is_against for point in points(world)] == [True, False]


def test_a_scheme_that_is_no_longer_used_needs_no_certificate() -> None:
    """All was sold two years ago, and the maker left the scheme since."""
    world = certified()
    world.receive({"L": "10"}, "2024-06-01")
    world.sell("V", {"L": "10"}, "2024-06-10", claim())
    uncertified(world)

    assert told(world, Topic.CERTIFICATES) == []


def test_a_growers_certificate_that_ended_is_told_for_a_year(world: World) -> None:
    about = {"certificate": "b", "valid_from": "2020-01-01"}
    world.certify("cane", **about, valid_until="2024-07-01")
    world.certify("shop", **{**about, "certificate": "c"}, valid_until="2024-06-30")

    assert told(world, Topic.CERTIFICATES) == [
        (
            False,
            "Certificate b of cane ended on 2024-07-01; what it sells does not count.",
        )
    ]


@pytest.mark.parametrize(
    ("signed", "is_against", "words"),
    [
        (Signed(10), False, ["No checkpoint of the record is signed yet."]),
        (
            Signed(10, problem="the ledger was opened without a key"),
            False,
            ["The ledger was opened without a key."],
        ),
        (
            Signed(10, problem="the first 5 entries differ", is_broken=True),
            True,
            ["The first 5 entries differ."],
        ),
        (
            Signed(10, covered=8, since=1),
            False,
            [
                "Entries recorded since the last signed checkpoint: 1.",
                "No signed checkpoint was seen by a witness or a timestamp authority.",
            ],
        ),
        (
            Signed(10, covered=9, seen=5, seen_by="accountant.example"),
            False,
            ["Signed entries that no witness has seen yet: 4."],
        ),
    ],
)
def test_how_far_the_record_is_signed_and_seen(
    world: World, signed: Signed, words: list[str], *, is_against: bool
) -> None:
    found = points(world, signed)

    assert [point.sentence for point in found] == words
    assert {(point.topic, point.is_against) for point in found} == {
        (Topic.SIGNING, is_against)
    }


def test_masses_that_do_not_add_up_stand_against_it(world: World) -> None:
    """No entry can bring this about; a book that was changed from outside can."""
    found = asked(world)
    flows = {
        goods: replace(flow, closing_g=flow.closing_g + 1)
        for goods, flow in found.masses.flows.items()
    }
    spoiled = replace(found, masses=replace(found.masses, flows=flows))

    [point] = points_of(spoiled)
    assert (point.topic, point.is_against) == (Topic.MASSES, True)


def test_a_percentage_that_a_suspension_lowers_stands_against_it() -> None:
    """Of 3000 kg that came in 2000 kg were certified, and 200 of 300 kg sold claimed.

    Then a certificate is suspended from before its 1000 kg came: a third is allowed, and
    two thirds were claimed. Worked out by hand.
    """
    world = certified(method="rolling average percentage", window_months=3)
    world.sign("B", "birch", claim())
    world.receive({"L": "1000"}, "2025-06-01")
    world.receive({"P": "1000"}, "2025-06-01", contract="PLAIN")
    world.receive({"K": "1000"}, "2025-06-01", contract="B")
    world.sell("W", {"P": "100"}, "2025-06-10")
    world.sell("V", {"L": "200"}, "2025-06-10", claim())
    assert told(world, Topic.ACCOUNTS) == []

    world.stop("birch/fairfield", "2025-06-20", from_on="2025-05-01")

    [(is_against, sentence)] = told(world, Topic.ACCOUNTS)
    assert is_against
    assert sentence == (
        "Of what account fairfield, cocoa, mill, conventional sold from 2025-03-31 to "
        "2025-06-30, more was claimed than its percentage allows."
    )
