"""docs/how-to/terms: three invented schemes that between them use every option."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ledger.books.balance import balances
from ledger.intake.draft import parse_draft
from ledger.intake.reading import read_file
from ledger.trade.record import body_of
from ledger.trade.terms import TermsPublished
from tests.intake.reference import records_in
from tests.journeys.conftest import ROOT, Run
from tests.world import MAKER, World, claim, lot, opened, refused

TERMS = ROOT / "docs" / "how-to" / "terms"
FILES = sorted(TERMS.glob("*.yaml"))


def terms_in(path: Path) -> TermsPublished:
    [draft] = read_file(path.name, path.read_bytes())
    terms = parse_draft(draft)
    assert isinstance(terms, TermsPublished)
    return terms


def test_there_are_three_invented_schemes() -> None:
    schemes = [terms_in(path).scheme for path in FILES]

    assert schemes == ["lantern", "saltmarsh", "tarnside-organic"]
    assert all("invented" in terms_in(path).source for path in FILES)


def options(model: type[BaseModel], around: str = "") -> Iterator[str]:
    """Yield the path of every field of terms, those of groups and lists included."""
    for name, field in model.model_fields.items():
        path = f"{around}{name}"
        inner = records_in(field.annotation)
        yield path
        for record in inner:
            yield from options(record, f"{path}.{basis_of(record)}")


def basis_of(record: type[BaseModel]) -> str:
    """Return what tells a record from others that may stand in its place."""
    basis = record.model_fields.get("basis")
    return "" if basis is None else f"{get_args(basis.annotation)[0]}."


def used(record: BaseModel, around: str = "") -> Iterator[str]:
    """Yield the path of every field that is given other than its default."""
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        path = f"{around}{name}"
        if not is_default(field, value):
            yield path
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, BaseModel):
                yield from used(one, f"{path}.{basis_of(type(one))}")


def is_default(field: FieldInfo, value: object) -> bool:
    return not field.is_required() and value == field.get_default()


def test_between_them_they_use_every_option_there_is() -> None:
    """An option that no file sets to other than its default is shown nowhere."""
    shown = {path for file in FILES for path in used(terms_in(file))}

    assert set(options(TermsPublished)) - shown == set()


def with_terms(path: Path) -> World:
    """Return a world whose scheme is that of a file, with everybody certified."""
    terms = terms_in(path)
    world = opened()
    world.record("terms.published", "2025-01-02", **body_of(terms))
    for holder in (MAKER, "alder", "birch"):
        world.certify(holder, terms.scheme, commodities=list(terms.commodities))
    return world


def buy(world: World, scheme: str, custody: str, **lots: str) -> None:
    """Buy lots of Peruvian beans of the first grade, and plain ones, in February."""
    made = claim(custody, scheme)
    world.sign("C", "alder", made, on="2025-02-01", grade="grade-1")
    world.sign("PLAIN", "alder", on="2025-02-01", grade="grade-1")
    world.receive({"P": "5000"}, "2025-02-10", contract="PLAIN")
    world.receive(lots, "2025-02-10")


LABEL = "Supports Lantern growers"


def test_lantern_keeps_accounts_by_site_origin_production_and_grade() -> None:
    world = with_terms(TERMS / "lantern.yaml")
    world.recorded_at = datetime(2025, 3, 1, 12, tzinfo=UTC)
    buy(world, "lantern", "mass balance", L="1000")
    key = {"scheme": "lantern", "origin": "PE", "grade": "grade-1"}
    assert world.account(**key) == 1_000_000

    with refused("label-not-allowed"):
        world.sell("A", {"P": "1"}, "2025-02-20", claim(scheme="lantern"))
    mine = {**claim(scheme="lantern"), "label": LABEL}
    with refused("account-below-zero"):
        world.sell("A", {"P": "1500.001"}, "2025-02-20", mine)
    world.sell("A", {"P": "1500"}, "2025-02-20", mine)
    assert world.account(**key) == -500_000


def test_lantern_counts_butter_and_powder_of_one_liquor_once() -> None:
    world = with_terms(TERMS / "lantern.yaml")
    buy(world, "lantern", "mass balance", L="1000")
    for form in ("butter", "powder"):
        world.make({"P": "100"}, {form: "100"}, "2025-02-11", form=form)
    key = {"scheme": "lantern", "origin": "PE", "grade": "grade-1"}
    mine = {**claim(scheme="lantern"), "label": LABEL}
    world.sell("A", {"butter": "100"}, "2025-02-20", mine)
    world.sell("B", {"powder": "100"}, "2025-02-21", mine)

    assert world.account(**key) == 750_000


def test_lantern_moves_claims_aside_and_down() -> None:
    world = with_terms(TERMS / "lantern.yaml")
    buy(world, "lantern", "mass balance", L="1000")
    moved = {"scheme": "lantern", "origin": "PE", "beans_kg": "10", "reason": "r"}
    world.record(
        "claim.transferred",
        "2025-02-20",
        transfer="T",
        from_={"grade": "grade-1"},
        to={"site": "annex", "grade": "grade-2"},
        **moved,
    )
    with refused("transfer-up"):
        world.record(
            "claim.transferred",
            "2025-02-20",
            transfer="U",
            from_={"site": "annex", "grade": "grade-2"},
            to={"grade": "grade-1"},
            **moved,
        )

    key = {"scheme": "lantern", "origin": "PE", "grade": "grade-2"}
    assert world.account(site="annex", **key) == 10_000


def test_lantern_asks_for_segregated_vanilla_and_flags_losses() -> None:
    world = with_terms(TERMS / "lantern.yaml")
    buy(world, "lantern", "mass balance", L="1000")
    losses = {"moisture": "7"}
    world.make({"P": "100"}, {"R": "93"}, "2025-02-11", step="roast", losses=losses)
    assert world.rules == ["loss-above-norm"]
    world.receive(
        [lot("V", "10", commodity="vanilla", form="ingredient")],
        "2025-02-10",
        contract="PLAIN",
    )
    mine = {**claim(scheme="lantern"), "label": LABEL}
    with refused("goods-do-not-support-claim"):
        world.sell("A", {"V": "1"}, "2025-02-20", mine)


def test_saltmarsh_limits_claims_of_all_sites_by_what_came_in() -> None:
    world = with_terms(TERMS / "saltmarsh.yaml")
    buy(world, "saltmarsh", "mass balance", L="5000")
    world.sell("A", {"P": "500"}, "2025-02-20", site="annex")
    with refused("percentage-exceeded"):
        world.sell("B", {"L": "500.001"}, "2025-02-21", claim(scheme="saltmarsh"))
    world.sell("B", {"L": "500"}, "2025-02-21", claim(scheme="saltmarsh"))

    key = {"scheme": "saltmarsh", "site": "all", "production": "all"}
    assert world.account(**key) == 4_500_000
    [held] = balances(world.shelf)
    assert "credit" not in str(held.account)


def test_saltmarsh_converts_by_what_batches_gave_the_months_before() -> None:
    world = with_terms(TERMS / "saltmarsh.yaml")
    buy(world, "saltmarsh", "mass balance", L="5000")
    losses = {"moisture": "30"}
    world.make({"P": "100"}, {"N": "70"}, "2025-02-11", form="nib", losses=losses)
    world.make({"N": "70"}, {"Q": "70"}, "2025-02-12", form="liquor")
    key = {"scheme": "saltmarsh", "site": "all", "production": "all"}
    world.sell("U", {"P": "100"}, "2025-02-13")
    world.sell("A", {"Q": "8.2"}, "2025-02-28", claim(scheme="saltmarsh"))
    assert 5_000_000 - world.account(**key) == 10_000
    world.sell("B", {"Q": "7"}, "2025-03-01", claim(scheme="saltmarsh"))

    assert 5_000_000 - world.account(**key) == 20_000


def test_tarnside_claims_organic_goods_only_and_beside_no_lantern() -> None:
    world = with_terms(TERMS / "tarnside.yaml")
    body = body_of(terms_in(TERMS / "lantern.yaml"))
    world.record("terms.published", "2025-01-02", **body)
    both = (claim(scheme="tarnside-organic"), claim(scheme="lantern"))
    with refused("claimed-beside"):
        world.sign("B", "alder", *both, on="2025-02-01", organic=True)
    world.sign("O", "alder", both[0], on="2025-02-01", organic=True)
    world.sign("PLAIN", "alder", on="2025-02-01")
    world.receive({"L": "100"}, "2025-02-10", contract="O")
    world.receive({"P": "100"}, "2025-02-10", contract="PLAIN")
    recipe = {
        "recipe": "O",
        "product": "Organic",
        "valid_from": "2025-01-01",
        "ingredients": [
            {
                "commodity": "cocoa",
                "form": "liquor",
                "share": "1",
                "organic": True,
                "origin": "PE",
            }
        ],
    }
    world.record("recipe.published", "2025-01-02", **recipe)
    world.make({"L": "9", "P": "1"}, {"M": "10"}, "2025-02-11", recipe="O", form="bar")

    with refused("goods-not-organic"):
        world.sell("A", {"M": "1"}, "2025-02-20", both[0])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_each_file_is_recorded_as_it_stands(
    run: Run, path: Path, tmp_path: Path
) -> None:
    """Opened, recorded by the command, checked, and refused a second time."""
    opening = tmp_path / "1-opening.yaml"
    opening.write_text(OPENING, encoding="utf-8")
    ledger = tmp_path / "terms.db"
    by = ("--ledger", ledger, "--by", "officer", "--quiet")
    assert run("record", opening, *by).status == 0

    assert run("record", path, *by).status == 0
    again = run("record", path, *by)
    assert again.status != 0
    assert again.err.count("\n") == 1
    assert run("verify", "--ledger", ledger).status == 0


OPENING = """\
kind: ledger.opened
on: 2025-01-01
format_version: 1
organisation: weirside
organisation_name: Weirside Chocolate
sites:
  - site: mill
    place: Mill lane 1
    country: NL
"""
