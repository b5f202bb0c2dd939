"""ledger.books.receiving: what a receipt brings into stock, and what it credits."""

from datetime import date
from typing import Any

import pytest

from ledger.books.effect import Book, Recorded, Tally
from ledger.books.receiving import counts, effects_of_dispatch, effects_of_receipt
from ledger.books.source import SourceLot, lot_named
from ledger.books.trace import whole_g
from tests.world import (
    OTHER_SCHEME,
    RECORDED_AT,
    World,
    certified,
    claim,
    lot,
    opened,
    refused,
)

RECEIVED = "2025-01-10"


@pytest.mark.parametrize(
    ("shipped", "landed", "credited_g"),
    [
        ("100", "99.999", 99_999),
        ("100", "100", 100_000),
        ("100", "100.001", 100_000),
    ],
)
def test_the_lesser_of_shipped_and_landed_weight_is_credited(
    shipped: str, landed: str, credited_g: int
) -> None:
    """Common practice, no source: what never left or never arrived is not claimed."""
    world = certified()
    world.receive([lot("L", shipped, landed)])

    assert world.account() == credited_g


@pytest.mark.parametrize(
    ("basis", "credited_g"),
    [("shipped", 100_000), ("landed", 99_000), ("lesser", 99_000)],
)
def test_the_terms_may_name_the_weight_that_is_credited(
    basis: str, credited_g: int
) -> None:
    world = certified(account={"credit_weight": basis})
    world.receive([lot("L", "100", "99")])

    assert world.account() == credited_g


def test_stock_is_what_landed_whatever_is_credited() -> None:
    world = certified(account={"credit_weight": "shipped"})
    world.receive([lot("L", "100", "98.5")])

    assert world.stock("L") == 98_500


def test_a_credit_is_rounded_down_to_the_gram() -> None:
    """0.001 kg of nib stands for 1.25 g of beans: one gram is credited."""
    world = certified()
    world.receive([lot("L", "0.001", form="nib")])

    assert world.account() == 1


def test_each_lot_is_rounded_by_itself() -> None:
    """Two lots of 0.003 kg of nib stand for 3.75 g each: 3 g and 3 g, never 7."""
    world = certified()
    world.receive([lot("L", "0.003", form="nib"), lot("K", "0.003", form="nib")])

    assert world.account() == 6


def test_a_rejected_lot_is_known_but_neither_stocked_nor_credited() -> None:
    world = certified()
    world.receive(
        [lot("L", "100", decision="rejected", rejected_because="mould"), lot("K", "1")]
    )

    assert (world.stock("L"), world.stock("K"), world.account()) == (0, 1000, 1000)
    assert whole_g(lot_named(world.shelf, "L", field="lot")) == 0
    assert not world.rules


def test_a_rejected_lot_carries_no_claim_whatever_its_contract_says() -> None:
    world = certified()
    world.receive([lot("L", "100", decision="rejected", rejected_because="mould")])
    rejected = lot_named(world.shelf, "L", field="lot")
    assert isinstance(rejected, SourceLot)

    assert rejected.claims
    assert not counts(world.shelf, rejected, rejected.claims[0])


def test_a_rejected_lot_cannot_be_used() -> None:
    world = certified()
    world.receive([lot("L", "100", decision="rejected", rejected_because="mould")])

    with refused("stock-below-zero"):
        world.make({"L": "0.001"}, {"M": "0.001"})


def test_one_kilogram_under_two_schemes_is_credited_once_under_each() -> None:
    """Each scheme's kilogram is spent once. Common practice, no source."""
    world = opened()
    for scheme in ("fairfield", OTHER_SCHEME):
        world.terms(scheme)
        world.certify("alder", scheme)
    world.sign("C", "alder", claim(), claim("segregated", OTHER_SCHEME))
    world.receive({"L": "100"})

    assert world.account() == 100_000
    assert world.account(scheme=OTHER_SCHEME) == 100_000


def test_a_lot_that_counts_under_one_of_two_schemes_is_credited_there_only() -> None:
    world = opened()
    for scheme in ("fairfield", OTHER_SCHEME):
        world.terms(scheme)
    world.certify("alder")
    world.sign("C", "alder", claim(), claim("segregated", OTHER_SCHEME))
    world.receive({"L": "100"})

    assert world.account() == 100_000
    assert world.account(scheme=OTHER_SCHEME) == 0
    assert world.rules == ["receipt-not-counted"]


def test_a_claim_that_does_not_count_hides_none_after_it() -> None:
    world = opened()
    for scheme in ("fairfield", OTHER_SCHEME):
        world.terms(scheme)
    world.certify("alder")
    world.sign("C", "alder", claim("segregated", OTHER_SCHEME), claim())
    world.receive({"L": "100"})

    assert world.account() == 100_000
    assert world.account(scheme=OTHER_SCHEME) == 0


@pytest.mark.parametrize(
    ("organic", "production"), [(True, "organic"), (False, "conventional")]
)
def test_organic_and_conventional_have_accounts_of_their_own(
    production: str, *, organic: bool
) -> None:
    world = certified(organic=organic)
    world.receive({"L": "100"})

    assert world.account(production=production) == 100_000
    assert [
        account.key.split("|")[3] for account in world.shelf.tallies(Book.ACCOUNT)
    ] == [production]


def test_a_lot_may_say_that_it_is_not_what_the_contract_says() -> None:
    world = certified(organic=True)
    world.receive([lot("L", "100", organic=False, origin="EC", form="nib")])

    assert world.account(production="conventional") == 125_000
    assert world.account(production="organic") == 0


def test_terms_that_do_not_tell_organic_from_other_keep_one_account() -> None:
    world = certified(organic=True, account={"match_organic": False})
    world.receive([lot("L", "100"), lot("K", "50", organic=False)])

    assert world.account(production="all") == 150_000


def test_terms_that_match_origin_keep_an_account_for_each() -> None:
    world = certified(account={"match_origin": True})
    world.receive([lot("L", "100"), lot("K", "50", origin="EC")])

    assert world.account(origin="PE") == 100_000
    assert world.account(origin="EC") == 50_000


def test_each_site_has_its_own_account() -> None:
    world = certified()
    world.receive({"L": "100"}, site="annex")

    assert (world.account(), world.account(site="annex")) == (0, 100_000)


@pytest.mark.parametrize(
    ("valid_until", "credited_g"), [("2025-01-09", 0), ("2025-01-10", 100_000)]
)
def test_it_counts_only_where_the_certificate_did_on_the_trade_date(
    valid_until: str, credited_g: int
) -> None:
    world = opened()
    world.terms(certificate_governed_by="delivery")
    world.certify("alder", valid_until=valid_until)
    world.sign("C", "alder", claim())
    world.receive({"L": "100"}, RECEIVED)

    assert world.account() == credited_g


@pytest.mark.parametrize(
    ("governing", "counts"),
    [("contract", True), ("shipment", True), ("delivery", False), ("fixation", False)],
)
def test_the_terms_name_the_date_on_which_the_certificate_must_count(
    governing: str, *, counts: bool
) -> None:
    """Signed 1 December, shipped 20 December, delivered 10 January; valid to 31 December.

    A receipt as a whole has no date of fixation, so the day of delivery stands in.
    """
    world = opened()
    world.terms(certificate_governed_by=governing)
    world.certify("alder", valid_until="2024-12-31")
    world.sign("C", "alder", claim(), on="2024-12-01")
    dispatch(world, "S", "2024-12-20")
    world.receive({"L": "100"}, RECEIVED, shipment="S")

    assert (world.account() == 100_000) is counts


def dispatch(world: World, shipment: str, on: str) -> int:
    return world.record(
        "shipment.dispatched",
        on,
        shipment=shipment,
        contract="C",
        carriage={"bill_of_lading": "BL 1"},
        net_shipped_kg="100",
    )


def test_without_a_bill_of_lading_the_day_of_delivery_stands_in() -> None:
    world = opened()
    world.terms(certificate_governed_by="shipment")
    world.certify("alder", valid_until="2024-12-31")
    world.sign("C", "alder", claim(), on="2024-12-01")
    world.receive({"L": "100"}, RECEIVED, shipment="S")

    assert world.account() == 0


def test_a_bill_of_lading_that_comes_late_decides_all_the_same() -> None:
    """The same entries in another order must not give another balance."""
    world = opened()
    world.terms(certificate_governed_by="shipment")
    world.certify("alder", valid_until="2024-12-31")
    world.sign("C", "alder", claim(), on="2024-12-01")
    receipt = world.receive({"L": "100"}, RECEIVED, shipment="S")
    dispatch(world, "S", "2024-12-20")

    assert world.account() == 100_000
    assert world.judgements[-1].restated == (receipt,)


def test_a_bill_of_lading_that_takes_a_credit_away_opens_a_breach() -> None:
    """It is a fact and must be recorded, even where it leaves the account short."""
    world = opened()
    world.terms(certificate_governed_by="shipment")
    for holder in ("alder", "weirside"):
        world.certify(holder, valid_from="2025-01-01")
    world.sign("C", "alder", claim(), on="2024-12-01")
    world.receive({"L": "100"}, RECEIVED, shipment="S")
    world.sell("X", {"L": "60"}, "2025-02-01", claim())
    dispatch(world, "S", "2024-12-31")

    assert world.rules == ["breach-opened"]
    assert world.account() == -60_000


def test_a_receipt_that_is_not_credited_is_stocked_and_flagged() -> None:
    world = certified()
    world.sign("D", "birch", claim())
    world.stop("birch/fairfield", "2025-01-01")
    world.receive({"L": "100"}, RECEIVED, contract="D")

    assert (world.stock("L"), world.account()) == (100_000, 0)
    [finding] = world.warnings
    assert "birch had no certificate under fairfield covering cocoa" in finding.message


def test_a_commodity_that_the_scheme_does_not_certify_is_not_credited() -> None:
    world = certified()
    world.receive([lot("L", "100", commodity="sugar", form="ingredient")])

    assert world.account() == 0
    assert world.rules == ["receipt-not-counted"]


def test_goods_without_a_contract_carry_no_claim() -> None:
    world = certified()
    world.record(
        "shipment.received",
        RECEIVED,
        shipment="S",
        supplier="cane",
        lots=[lot("L", "25", commodity="sugar", form="ingredient")],
    )

    assert (world.stock("L"), world.account()) == (25_000, 0)


@pytest.mark.parametrize("missing", ["commodity", "form"])
def test_goods_without_a_contract_say_what_they_are(missing: str) -> None:
    about = {"commodity": "sugar", "form": "ingredient"}
    del about[missing]

    with refused("lot-undescribed"):
        certified().record(
            "shipment.received",
            shipment="S",
            supplier="cane",
            lots=[lot("L", "1", **about)],
        )


def test_what_a_receipt_names_must_be_recorded() -> None:
    world = certified()
    sugar = [lot("K", "1", commodity="sugar", form="ingredient")]

    with refused("unknown-contract"):
        world.receive({"L": "1"}, contract="none")
    with refused("unknown-party"):
        world.record("shipment.received", shipment="S", supplier="nobody", lots=sugar)
    with refused("unknown-site"):
        world.receive({"L": "1"}, site="barn")
    with refused("unknown-contract"):
        world.record(
            "shipment.dispatched",
            shipment="S",
            contract="none",
            carriage={"bill_of_lading": "BL"},
            net_shipped_kg="1",
        )


def test_another_record_than_its_own_is_a_mistake_in_the_program() -> None:
    world = certified()
    first = world.shelf.at(0)
    assert first is not None
    wrong = Recorded(9, 9, date(2025, 1, 1), RECORDED_AT, "me", first.record)

    for effects_of in (effects_of_receipt, effects_of_dispatch):
        with pytest.raises(TypeError):
            effects_of(world.shelf, wrong)


@pytest.mark.parametrize(
    "scope",
    [
        {"commodities": ["sugar"]},
        {"custody": ["segregated"]},
        {"organic": False},
    ],
)
def test_a_certificate_that_covers_other_goods_does_not_count(
    scope: dict[str, Any],
) -> None:
    world = opened()
    world.terms()
    world.certify("alder", **scope)
    world.sign("C", "alder", claim(), organic=True)
    world.receive({"L": "10"})

    assert world.account(production="organic") == 0
    assert world.rules == ["receipt-not-counted"]
    assert world.warnings[0].field == "lots"


def test_a_lot_rejected_on_the_day_it_came_never_counts() -> None:
    world = certified()
    world.receive({"L": "10"}, "2025-01-10")
    about = {"from_on": "2025-01-10", "hold": "H", "reason": "taint"}
    world.record("lot.rejected", "2025-01-12", lot="L", **about)

    account = Tally(Book.ACCOUNT, "fairfield|cocoa|mill|conventional|all")
    assert world.shelf.run(account).movements == ()


def test_a_lot_rejected_later_counts_until_that_day() -> None:
    world = certified()
    world.receive({"L": "10"}, "2025-01-10")
    about = {"from_on": "2025-01-11", "hold": "H", "reason": "taint"}
    world.record("lot.rejected", "2025-01-12", lot="L", **about)

    assert (world.account("2025-01-10"), world.account("2025-01-11")) == (10_000, 0)


def test_each_lot_and_claim_that_does_not_count_is_told() -> None:
    """The first lot is rejected, the second of no certified commodity, the third fine."""
    world = certified()
    away = {"decision": "rejected", "rejected_because": "mould"}
    world.receive(
        [
            lot("A", "1", **away),
            lot("B", "1", commodity="sugar", form="ingredient"),
            lot("C", "1"),
            lot("D", "1", commodity="sugar", form="ingredient"),
        ]
    )

    assert world.rules == ["receipt-not-counted"] * 2
    assert [one.message.split()[1] for one in world.warnings] == ["B", "D"]
    assert world.account() == 1_000
