"""What is printed with --why is enough to do every amount again."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given, settings

from ledger.books.due_line import Standing
from ledger.books.dues import ContractDues
from ledger.reports.workings import explained, workings_table
from tests.books.buying_world import (
    BuyingWorld,
    certified,
    fixed,
    lot,
    row,
    to_be_fixed,
)
from tests.books.random_buying import Days, worlds
from tests.reports.again import Amount, done_again


def printed_amounts(dues: ContractDues) -> list[Amount]:
    """Return what the books say."""
    return [
        (
            line.shipment,
            line.purpose + (f" ({line.scheme})" if line.scheme else ""),
            line.payee,
            Fraction(line.amount_minor, 100),
        )
        for line in dues.lines
        if line.amount_minor is not None
    ]


@settings(max_examples=60, deadline=None)
@given(world=worlds(), as_of=Days)
def test_every_printed_amount_can_be_done_again_from_its_lines(
    world: BuyingWorld, as_of: str
) -> None:
    [signed] = [on for kind, on, _ in world.bodies if kind == "contract.signed"]

    dues = world.dues(max(as_of, signed))

    assert list(done_again(explained(dues))) == printed_amounts(dues)


def small() -> ContractDues:
    world = certified(premiums=[row("240.00")])
    world.contract(fixed("2000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000.5")])
    world.pay("P-1", "2025-02-20", "500.00", "advance")
    return world.dues("2025-02-21")


def test_a_line_names_entry_rule_and_arithmetic() -> None:
    assert explained(small()) == (
        """\
Contract C-1 of 2025-01-10 with coop-alto, as of 2025-02-21

S-1, received 2025-02-01 (entry 5): price to coop-alto, due on 2025-03-03
   1. net shipped weight of the lots taken: 1000.50 kg  [entry 5]
   2. price agreed in contract C-1: 2000.00 USD/t  [entry 4]
   3. asked for these lots by fair-harvest: it has no minimum and no market: none
   4. price owed: 2000.00 USD/t
       = highest of (2000.00, 0)
   5. lots L-1: 1000.50 kg at 2000.00 USD/t: 2001.00 USD
       = 1000.50 * 2000.00 / 1000
   6. amount due: 2001.00 USD
       = 2001.00
       by rounded up to the smallest unit of the currency
  paid by advance P-1 on 2025-02-20 (entry 6): 500.00 USD
  open: 1501.00 USD
       = 2001.00 - 500.00

S-1, received 2025-02-01 (entry 5): premium (fair-harvest) to coop-alto, due on 2025-03-03
   1. net shipped weight of the lots taken: 1000.50 kg  [entry 5]
   2. premium, valid from 2000-01-01 (delivery date 2025-02-01): 240.00 USD/t  [entry 2]
       by fair-harvest 1: table 1
   3. lots L-1: 1000.50 kg at 240.00 USD/t: 240.12 USD
       = 1000.50 * 240.00 / 1000
   4. amount due: 240.12 USD
       = 240.12
       by rounded up to the smallest unit of the currency
  open: 240.12 USD
"""
    )


def test_what_has_no_figure_says_why() -> None:
    world = certified()
    world.contract(to_be_fixed("0"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    dues = world.dues("2025-06-01")

    assert [line.standing for line in dues.lines] == [Standing.NOT_COMPUTABLE]
    assert (
        "  not computable: NY has no quote on 2025-06-01 or within 5 days before it;"
        in explained(dues)
    )
    assert "open:" not in explained(dues)


def test_a_contract_without_receipts_says_so() -> None:
    world = certified()
    world.contract(fixed("2000.00"))

    assert explained(world.dues()).endswith("so nothing is owed yet.\n")


def test_the_table_has_every_line_of_the_text() -> None:
    table = workings_table([small()])

    assert list(table.figures("line")) == [
        "1",
        "2",
        "3",
        "4",
        "5",
        "6",
        "1",
        "2",
        "3",
        "4",
    ]
    assert [Decimal(e) for e in table.figures("entry") if e] == [5, 4, 5, 2]
