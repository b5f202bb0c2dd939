"""ledger.books.reference: names are brought in once, by what must be there before them."""

from datetime import date
from typing import Any

import pytest

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.reference import effects_of_certificate_event
from tests.books.buying_world import to_be_fixed
from tests.world import (
    OTHER_SCHEME,
    RECORDED_AT,
    SCHEME,
    World,
    certified,
    claim,
    opened,
    refused,
)


def test_a_ledger_is_opened_once() -> None:
    world = opened()
    again = world.raws[0]["body"]

    with refused("already-open"):
        world.record("ledger.opened", **again)


def test_opening_brings_in_the_maker_and_its_sites() -> None:
    shelf = opened().shelf

    assert [s.name for s in shelf.subjects(SubjectKind.ORGANISATION)] == ["weirside"]
    assert [s.name for s in shelf.subjects(SubjectKind.SITE)] == ["annex", "mill"]


@pytest.mark.parametrize(
    ("valid_until", "taken"), [("2024-12-31", False), ("2025-01-01", True)]
)
def test_a_certificate_is_valid_for_a_day_at_least(
    valid_until: str, *, taken: bool
) -> None:
    world = opened()
    if taken:
        world.certify("alder", valid_from="2025-01-01", valid_until=valid_until)
        assert not world.rules
    else:
        with refused("dates-backwards"):
            world.certify("alder", valid_from="2025-01-01", valid_until=valid_until)


def test_a_certificate_is_held_by_the_maker_or_a_party() -> None:
    world = opened()
    world.certify("weirside")
    world.certify("alder")

    with refused("unknown-party"):
        world.certify("nobody")


@pytest.mark.parametrize("how", ["suspended", "withdrawn", "reinstated"])
def test_what_happens_to_a_certificate_happens_to_one_that_is_recorded(
    how: str,
) -> None:
    with refused("unknown-certificate"):
        certified().stop("none", "2025-01-01", how)


def test_another_record_than_its_own_is_a_mistake_in_the_program() -> None:
    world = opened()
    first = world.shelf.at(0)
    assert first is not None
    wrong = Recorded(9, 9, date(2025, 1, 1), RECORDED_AT, "me", first.record)

    with pytest.raises(TypeError):
        effects_of_certificate_event(world.shelf, wrong)


# Terms and limits


def test_one_version_of_terms_governs_from_a_date() -> None:
    """Of two, the one recorded later would otherwise never count, and nobody would know."""
    world = certified(valid_from="2024-01-01")

    with refused("terms-govern-already"):
        world.terms(valid_from="2024-01-01", version="again")
    world.terms(valid_from="2024-01-02", version="again")
    world.terms(OTHER_SCHEME, valid_from="2024-01-01")


def test_a_version_of_terms_has_a_name_of_its_own() -> None:
    world = certified(version="1")

    with refused("name-taken"):
        world.terms(valid_from="2025-01-01", version="1")


@pytest.mark.parametrize("counted", ["receipt", "sale", "loss"])
@pytest.mark.parametrize(
    ("valid_from", "taken"),
    [("2025-01-31", False), ("2025-02-01", False), ("2025-02-02", True)],
)
def test_new_terms_do_not_govern_what_was_counted_already(
    counted: str, valid_from: str, *, taken: bool
) -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-02")
    match counted:
        case "receipt":
            world.receive({"K": "1"}, "2025-02-01")
        case "sale":
            world.sell("X", {"L": "1"}, "2025-02-01", claim())
        case _:
            world.write_off("L", "1", "2025-02-01")

    if taken:
        world.terms(valid_from=valid_from)
        assert len(world.shelf.subjects(SubjectKind.TERMS)) == 2
    else:
        with refused("terms-backdated"):
            world.terms(valid_from=valid_from)


def test_new_terms_of_one_scheme_may_govern_what_was_counted_under_another() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-02-01")
    world.terms(OTHER_SCHEME, valid_from="2025-01-01")

    assert not world.rules


def limits(world: World, valid_from: str, version: str) -> int:
    return world.record(
        "limits.published",
        version=version,
        valid_from=valid_from,
        limits=[{"step": "roast", "measure": "hours", "highest": "1", "source": "us"}],
    )


def test_one_version_of_limits_governs_from_a_date() -> None:
    world = opened()
    limits(world, "2025-01-01", "1")

    with refused("limits-govern-already"):
        limits(world, "2025-01-01", "2")
    with refused("name-taken"):
        limits(world, "2025-01-02", "1")
    limits(world, "2025-01-02", "2")


# Market


QUOTES = {"market": "NY", "unit": "USD/t", "source": "page"}
RATES = {"base": "GBP", "to": "USD", "source": "page"}


def test_a_day_of_a_market_has_one_figure_and_never_an_average() -> None:
    world = opened()
    quote = {"on": "2025-01-02", "level": "3000"}

    with pytest.raises(
        EntryRefusedError, match="quotes give 2025-01-02 more than once"
    ):
        world.record("quote.recorded", **QUOTES, quotes=[quote, quote])
    world.record("quote.recorded", **QUOTES, quotes=[quote])
    with refused("name-taken"):
        world.record("quote.recorded", **QUOTES, quotes=[{**quote, "level": "3001"}])
    other = {**QUOTES, "market": "LDN"}
    world.record("quote.recorded", **other, quotes=[quote])


def test_a_futures_month_is_quoted_no_later_than_in_that_month() -> None:
    world = opened()
    about = {**QUOTES, "month": "2025-03"}

    with refused("month-over"):
        world.record(
            "quote.recorded", **about, quotes=[{"on": "2025-04-01", "level": "3000"}]
        )
    world.record(
        "quote.recorded", **about, quotes=[{"on": "2025-03-31", "level": "3000"}]
    )


def test_a_day_of_a_rate_has_one_figure() -> None:
    world = opened()
    rate = {"on": "2025-01-02", "rate": "1.25"}

    with pytest.raises(EntryRefusedError, match="rates give 2025-01-02 more than once"):
        world.record("rate.recorded", **RATES, rates=[rate, rate])
    with refused("day-given-twice"):
        world.record("rate.recorded", **RATES, rates=[rate, {**rate, "rate": "1.26"}])
    world.record("rate.recorded", **RATES, rates=[rate])
    with refused("name-taken"):
        world.record("rate.recorded", **RATES, rates=[rate])


# Contracts


def test_a_contract_names_a_seller_and_schemes_with_terms() -> None:
    world = opened()

    with refused("unknown-party"):
        world.sign("C", "nobody")
    with refused("no-terms"):
        world.sign("C", "alder", claim())


def test_a_contract_names_a_scheme_once() -> None:
    """Goods bought twice under one scheme would be credited twice."""
    world = certified()

    with pytest.raises(EntryRefusedError, match=r"claims\.1\.scheme is fairfield"):
        world.sign("D", "alder", claim(), claim("segregated"))


@pytest.mark.parametrize(
    ("on", "flagged"), [("2025-01-31", False), ("2025-02-01", True)]
)
def test_a_seller_without_a_certificate_on_the_day_of_the_contract_is_flagged(
    on: str, *, flagged: bool
) -> None:
    world = opened()
    world.terms()
    world.certify("alder", valid_until="2025-01-31", custody=["mass balance"])
    world.sign("C", "alder", claim(), on=on)

    assert world.rules == (["seller-not-certified"] if flagged else [])


def test_a_scope_that_does_not_cover_the_contract_is_flagged() -> None:
    world = opened()
    world.terms()
    world.certify("alder", custody=["mass balance"], organic=False)
    world.sign("C", "alder", claim("segregated"))
    assert world.rules == ["seller-not-certified"]

    world.sign("D", "alder", claim(), organic=True)
    assert world.rules == ["seller-not-certified"]


TO_BE_FIXED = to_be_fixed("100")


def fix(world: World, name: str, mass_kg: str, contract: str = "F") -> int:
    level = {"amount": "3000", "unit": "USD/t"}
    return world.record(
        "price.fixed",
        fixation=name,
        contract=contract,
        quantity_kg=mass_kg,
        level=level,
    )


@pytest.mark.parametrize(("rest", "taken"), [("40", True), ("40.001", False)])
def test_no_more_is_fixed_than_was_contracted(rest: str, *, taken: bool) -> None:
    world = opened()
    world.sign("F", "alder", price=TO_BE_FIXED, quantity_kg="100")
    fix(world, "1", "60")
    if taken:
        fix(world, "2", rest)
        with refused("fixed-beyond-contract"):
            fix(world, "3", "0.001")
    else:
        with pytest.raises(EntryRefusedError, match=r"has 40\.000 kg left to fix"):
            fix(world, "2", rest)


def test_a_corrected_fixation_does_not_count_against_itself() -> None:
    world = opened()
    world.sign("F", "alder", price=TO_BE_FIXED, quantity_kg="100")
    first = fix(world, "1", "60")
    world.replace(first, quantity_kg="100")

    with refused("fixed-beyond-contract"):
        world.replace(len(world.raws) - 1, was=first, quantity_kg="100.001")


def test_a_fixed_price_is_not_fixed_again() -> None:
    world = certified()

    with refused("price-already-fixed"):
        fix(world, "1", "60", "C")
    with refused("unknown-contract"):
        fix(world, "1", "60", "none")


def pay(world: World, **more: Any) -> int:  # noqa: ANN401
    body = {
        "payment": f"Y{len(world.raws)}",
        "contract": "C",
        "payee": "alder",
        "towards": "price",
        "money": {"amount": "100", "currency": "USD"},
        "document": "bank",
        **more,
    }
    return world.record("payment.made", **body)


@pytest.mark.parametrize("basis", ["fixed", "to be fixed"])
def test_a_payment_is_in_the_currency_of_its_contract(basis: str) -> None:
    world = certified()
    world.sign("F", "alder", price=TO_BE_FIXED)
    contract = "C" if basis == "fixed" else "F"
    pay(world, contract=contract)

    with pytest.raises(EntryRefusedError, match="money is in EUR, but contract"):
        pay(world, contract=contract, money={"amount": "1", "currency": "EUR"})


def test_a_payment_names_a_contract_and_a_payee() -> None:
    world = certified()

    with refused("unknown-contract"):
        pay(world, contract="none")
    with refused("unknown-party"):
        pay(world, payee="nobody")


def test_what_is_paid_to_the_farmers_is_about_their_cooperative() -> None:
    world = certified()
    seq = pay(world, payee="farmers")
    cooperative = Subject(SubjectKind.PARTY, "alder")

    assert seq in [
        found.slot for found in world.shelf.about(cooperative, "payment.made")
    ]


def test_a_paper_belongs_to_what_is_recorded() -> None:
    world = certified()
    paper: dict[str, Any] = {
        "document": "D",
        "title": "weight note",
        "sha256": "0" * 64,
        "media_type": "application/pdf",
        "size": 1,
    }

    with refused("unknown-contract"):
        world.record(
            "document.attached",
            **paper,
            about=[{"subject": "contract", "name": "none"}],
        )
    seq = world.record(
        "document.attached", **paper, about=[{"subject": "contract", "name": "C"}]
    )
    contract = Subject(SubjectKind.CONTRACT, "C")
    assert seq in [found.slot for found in world.shelf.about(contract)]


def test_terms_are_found_by_their_scheme() -> None:
    world = certified()
    scheme = Subject(SubjectKind.SCHEME, SCHEME)

    assert len(world.shelf.about(scheme, "terms.published")) == 1


def test_a_fixation_is_recorded_once() -> None:
    world = opened()
    world.sign("F", "alder", price=TO_BE_FIXED, quantity_kg="100")
    fix(world, "1", "60")

    with refused("name-taken"):
        fix(world, "1", "40")
