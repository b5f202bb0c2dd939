"""The arithmetic behind amounts: the entries, the rule with its clause, line by line.

The signs are those of a spreadsheet. "lowest of" and "highest of" take one of the figures
in the brackets. A figure that ends in "…" goes on; whoever does it again carries on with
the line it stands in rather than with the digits shown. A name in square brackets stands
for the exact figure of the line that begins with it.
"""

from collections.abc import Iterable, Iterator

from ledger.books.due_line import DueLine
from ledger.books.dues import ContractDues
from ledger.books.working import Working
from ledger.reports.figures import money_text
from ledger.reports.tables import Column, Table


def explained(dues: ContractDues) -> str:
    """Return how every amount under a contract was reached, as text."""
    contract = f"Contract {dues.contract} of {dues.signed_on} with {dues.cooperative}"
    lines = [f"{contract}, as of {dues.as_of}"]
    for line in dues.lines:
        lines += ["", *_of_line(line)]
    if not dues.lines:
        lines += ["", "Nothing was received under it, so nothing is owed yet."]
    return "\n".join(lines) + "\n"


def _of_line(line: DueLine) -> Iterator[str]:
    scheme = f" ({line.scheme})" if line.scheme else ""
    due = "no due date" if line.due_on is None else f"due on {line.due_on}"
    yield (
        f"{line.shipment}, received {line.received_on} (entry {line.entry}): "
        f"{line.purpose}{scheme} to {line.payee}, {due}"
    )
    if line.because:
        yield f"  {line.standing}: {line.because}"
    yield from numbered(line.workings)
    if line.amount_minor is not None and line.currency is not None:
        yield from _paid(line, line.amount_minor, line.currency)


def _paid(line: DueLine, amount_minor: int, currency: str) -> Iterator[str]:
    amounts = [amount_minor]
    for part in line.paid:
        amounts.append(part.amount_minor)
        sort = "advance" if part.is_advance else "payment"
        yield (
            f"  paid by {sort} {part.payment} on {part.paid_on} (entry {part.entry}): "
            f"{money_text(part.amount_minor, currency)} {currency}"
        )
    left = money_text(line.outstanding_minor or 0, currency)
    figures = " - ".join(money_text(minor, currency) for minor in amounts)
    yield f"  open: {left} {currency}"
    if line.paid:
        yield f"       = {figures}"


def numbered(workings: Iterable[Working]) -> Iterator[str]:
    """Yield lines of arithmetic with their numbers, rules and entries."""
    for number, working in enumerate(workings, start=1):
        entry = "" if working.entry is None else f"  [entry {working.entry}]"
        yield f"{number:>4}. {working.text}: {working.figure}{entry}"
        if working.reckoning:
            yield f"       = {working.reckoning}"
        if working.rule:
            yield f"       by {working.rule}"


def workings_table(found: Iterable[ContractDues]) -> Table:
    """Return the arithmetic behind the amounts of contracts, one line a row."""
    return Table(
        title="How the amounts were reached",
        columns=(
            Column("contract", "Contract", width=12),
            Column("shipment", "Shipment", width=12),
            Column("duty", "For", width=12),
            Column("payee", "Payee", width=12),
            Column("standing", "Figure is", width=10, is_detail=True),
            Column("line", "Line", is_figure=True, width=5),
            Column("what", "What", width=30),
            Column("figure", "Figure", width=14),
            Column("reckoning", "Arithmetic", width=25),
            Column("rule", "Rule", width=25),
            Column("entry", "Entry", is_figure=True, width=7),
        ),
        rows=[
            (
                line.contract,
                line.shipment,
                line.purpose,
                line.payee,
                line.standing,
                str(number),
                working.text,
                working.figure,
                working.reckoning,
                working.rule,
                "" if working.entry is None else str(working.entry),
            )
            for dues in found
            for line in dues.lines
            for number, working in enumerate(line.workings, start=1)
        ],
    )
