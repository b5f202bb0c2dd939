"""Tables of a statement to a cooperative, and the entries that would settle it."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import yaml

from ledger.books.dues import ContractDues
from ledger.books.statement import Settling, Statement
from ledger.reports.dues_table import contract_table, dues_table
from ledger.reports.figures import kg_text, mass_text, money_text
from ledger.reports.phrases import told
from ledger.reports.tables import Column, Table
from ledger.reports.tongue import PLAIN, Tongue
from ledger.trade.record import body_of

_PAID_ON = Column("paid_on", "Paid on", width=11)


class _Plain(yaml.SafeDumper):
    """Writes texts without quotes where the files of entries need none.

    There every value is text, so only what would be read as left out is quoted.
    """

    yaml_implicit_resolvers = {  # noqa: RUF012 - as the library declares it
        first: [(tag, pattern) for tag, pattern in found if tag.endswith(":null")]
        for first, found in yaml.SafeDumper.yaml_implicit_resolvers.items()
    }


def delivered_table(statement: Statement) -> Table:
    """Return what was delivered under a contract, one receipt a row."""
    return Table(
        title="Delivered",
        columns=(
            Column("shipment", "Shipment", width=12),
            Column("bill_of_lading", "Bill of lading", width=15),
            Column("shipped_on", "Shipped on", width=11),
            Column("received_on", "Received on", width=11),
            Column("lots", "Lots taken", width=18),
            Column("net_shipped_kg", "Shipped", is_figure=True, unit="kg", width=12),
            Column("net_landed_kg", "Landed", is_figure=True, unit="kg", width=12),
            Column("paid_kg", "Paid for", is_figure=True, unit="kg", width=12),
        ),
        rows=[
            (
                one.shipment,
                one.bill_of_lading or "",
                "" if one.shipped_on is None else one.shipped_on.isoformat(),
                one.received_on.isoformat(),
                ", ".join(one.taken) or "none",
                kg_text(one.shipped_g),
                kg_text(one.landed_g),
                mass_text(one.payable_g),
            )
            for one in statement.deliveries
        ],
        notes=[
            f"Lot {lot} of shipment {one.shipment} was rejected and is not paid for: "
            f"{reason}."
            for one in statement.deliveries
            for lot, reason in one.rejected
        ],
    )


def amounts_table(dues: ContractDues) -> Table:
    """Return each amount owed under a contract, when it was paid, and what is open."""
    table = contract_table(dues)
    return replace(_with_days(table, [dues]), title="What is owed, paid and open")


def all_amounts_table(found: Iterable[Statement]) -> Table:
    """Return each amount owed under several contracts, in one table."""
    dues = [statement.dues for statement in found]
    return _with_days(dues_table(dues), dues)


def _with_days(table: Table, found: Iterable[ContractDues]) -> Table:
    """Return a table of due lines with the days on which each was paid."""
    days = [
        ", ".join(dict.fromkeys(part.paid_on.isoformat() for part in line.paid))
        for dues in found
        for line in dues.lines
    ]
    place = [column.key for column in table.columns].index("paid") + 1
    return replace(
        table,
        columns=(*table.columns[:place], _PAID_ON, *table.columns[place:]),
        rows=[
            (*row[:place], day, *row[place:])
            for row, day in zip(table.rows, days, strict=True)
        ],
    )


def short_sentence(settling: Settling, tongue: Tongue = PLAIN) -> str:
    """Return in one sentence what is short and since when."""
    says, short = tongue.says, settling.shortfall
    money = tongue.figure(money_text(short.outstanding_minor, short.currency))
    about = (
        f"{money} {short.currency}",
        says(short.duty),
        short.payee,
        ", ".join(short.shipments),
        tongue.day(short.due_on),
    )
    if short.late_days:
        phrase = says(
            "{1} of {2} to {3} for {4} is open: due since {5}, {6} days ago.",
        )
        sentence = told(phrase, *about, str(short.late_days))
    else:
        phrase = says("{1} of {2} to {3} for {4} is open: counted up to {5}.")
        sentence = told(phrase, *about)
    unsure = says("Part of it is provisional.") if short.provisional_minor else ""
    return f"{sentence} {unsure}".rstrip()


def entry_text(settling: Settling, statement: Statement) -> str:
    """Return the entry of a payment that settles a shortfall, ready to be recorded.

    It is dated on the day of the statement, up to which interest is counted.
    """
    entry = {
        "kind": settling.payment.kind,
        "on": statement.dues.as_of.isoformat(),
        **body_of(settling.payment),
    }
    return yaml.dump(entry, Dumper=_Plain, sort_keys=False, allow_unicode=True)


def entries_texts(
    statement: Statement, tongue: Tongue = PLAIN
) -> Iterator[tuple[str, str]]:
    """Yield what is short with the entry that would settle it."""
    for settling in statement.settling:
        yield short_sentence(settling, tongue), entry_text(settling, statement)
