"""ledger.books.paper_trail: a sale walked back to contract, certificate and payment."""

import pytest

from ledger.books.effect import SubjectKind
from ledger.books.paper_trail import PaperTrail, Stop, paper_trail
from tests.books.buying_world import to_be_fixed
from tests.world import OTHER_SCHEME, World, certified, claim


def attach(world: World, document: str, subject: str, name: str) -> None:
    world.record(
        "document.attached",
        document=document.replace(" ", "-"),
        title=document,
        sha256="0" * 64,
        media_type="text/plain",
        size=3,
        about=[{"subject": subject, "name": name}],
    )


@pytest.fixture
def world() -> World:
    """Beans of two contracts in one bar, one of them fixed in two parts and paid."""
    world = certified()
    world.terms(OTHER_SCHEME)
    world.certify("alder", OTHER_SCHEME)
    world.sign("F", "alder", claim(), price=to_be_fixed("100.00"))
    for fixation in ("F-1", "F-2"):
        world.record(
            "price.fixed",
            "2025-01-05",
            fixation=fixation,
            contract="F",
            quantity_kg="50",
            level={"amount": "2000.00", "unit": "USD/t"},
        )
    world.receive({"LF": "100"}, "2025-01-10", contract="F", shipment="SF")
    world.receive({"LP": "40"}, "2025-01-11", contract="PLAIN", shipment="SP")
    world.record(
        "payment.made",
        "2025-01-20",
        payment="P-1",
        contract="F",
        payee="alder",
        towards="price",
        money={"amount": "210.00", "currency": "USD"},
        document="bank P-1",
    )
    world.make({"LF": "60", "LP": "20"}, {"M": "80"}, batch="B")
    world.sell("X", {"M": "40"}, "2025-02-01", claim())
    world.take_back("R", "X", {"M": "10"}, "2025-02-10")
    return world


def trail(world: World) -> PaperTrail:
    return paper_trail(world.shelf, "X")


def seqs(stop: Stop | None) -> list[int]:
    return [] if stop is None else [one.seq for one in stop.recorded]


def entries(world: World, *kinds: str, **about: str) -> list[int]:
    """Return the entries of some kinds whose body says so."""
    return [
        raw["seq"]
        for raw in world.raws
        if raw["kind"] in kinds and about.items() <= raw["body"].items()
    ]


def test_the_larger_purchase_comes_first_with_what_of_the_sale_came_with_it(
    world: World,
) -> None:
    found = trail(world)

    assert [(one.supplier, int(one.grams)) for one in found.purchases] == [
        ("alder", 30_000),
        ("birch", 10_000),
    ]
    assert [one.subject.name for one in found.batches] == ["B"]
    assert seqs(found.sale) == entries(world, "sale.dispatched", "sale.returned")


def test_a_purchase_shows_its_contract_and_how_the_price_was_fixed(
    world: World,
) -> None:
    first, second = trail(world).purchases

    assert seqs(first.contract) == [
        *entries(world, "contract.signed", contract="F"),
        *entries(world, "price.fixed"),
    ]
    assert seqs(second.contract) == entries(world, "contract.signed", contract="PLAIN")


def test_it_shows_the_certificates_under_the_schemes_of_the_contract_alone(
    world: World,
) -> None:
    """Alder is certified under another scheme too, which this contract does not claim."""
    first, second = trail(world).purchases

    assert [one.subject.name for one in first.certificates] == ["alder/fairfield"]
    assert second.certificates == ()


def test_it_shows_what_was_paid_under_the_contract(world: World) -> None:
    first, second = trail(world).purchases

    assert [(one.subject.kind, one.subject.name) for one in first.payments] == [
        (SubjectKind.PAYMENT, "P-1")
    ]
    assert seqs(first.payments[0]) == entries(world, "payment.made")
    assert second.payments == ()


def test_every_stop_has_the_papers_that_belong_to_it(world: World) -> None:
    attach(world, "agreement", "contract", "F")
    attach(world, "weight note", "lot", "LF")
    attach(world, "audit letter", "certificate", "alder/fairfield")
    attach(world, "invoice", "sale", "X")

    found = trail(world)
    first, second = found.purchases

    assert [paper.attached.title for paper in found.sale.papers] == ["invoice"]
    assert {
        stop.subject.kind: [paper.attached.title for paper in stop.papers]
        for stop in first.stops()
    } == {
        SubjectKind.SHIPMENT: ["weight note"],
        SubjectKind.CONTRACT: ["agreement"],
        SubjectKind.CERTIFICATE: ["audit letter"],
        SubjectKind.PAYMENT: [],
    }
    assert (first.papers, second.papers) == (3, 0)
