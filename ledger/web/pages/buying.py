"""The buyer's first page: contracts, what is late, what a tonne would be owed today."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.bargain import recorded_until
from ledger.books.dues import ContractDues, dues_of
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.fulfilment import Fulfilment, fulfilment_of, fulfilments
from ledger.books.owing import Total, contract_totals
from ledger.books.price_today import PriceToday, price_today
from ledger.books.shelf import Shelf
from ledger.desk.papers import kept_of, papers_about
from ledger.errors import NotFoundError
from ledger.reports.contract_table import (
    consignments_table,
    contracts_table,
    fixations_table,
    prices_table,
)
from ledger.reports.dues_table import DEFERS, contract_table, payments_table
from ledger.reports.figures import kg_text
from ledger.reports.paper_table import papers_table
from ledger.reports.tongue import Tongue
from ledger.web.access import BUYER, CERTIFIER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.prices import price_facts
from ledger.web.report import Report, show_report

_LINKS: Final = {
    "contract": "/contracts/{contract}",
    "overdue": "/dues/{contract}",
    "shipment": "/shipments/{shipment}",
    "entry": "/entries/{entry}",
    "document": "/papers/{sha256}",
}


@dataclass(frozen=True, slots=True)
class _Seen:
    """A contract as the first page shows it."""

    progress: Fulfilment
    totals: tuple[Total, ...]

    @property
    def is_late(self) -> bool:
        """Whether goods, a fixation or a payment are late."""
        one = self.progress
        overdue = any(total.overdue_minor for total in self.totals)
        return bool(one.ship_late_days or one.fix_late_days or overdue)

    @property
    def is_open(self) -> bool:
        """Whether there is still something to do."""
        return self.is_late or not self.progress.is_done


def show_buying(asked: Asked) -> Response:
    """Show the contracts that are open, or all of them."""
    as_of, in_all = asked.as_of(), bool(asked.query("all"))
    with asked.books() as books:
        seen = [
            _Seen(one, contract_totals(dues_of(books.shelf, name, as_of)))
            for one in fulfilments(books.shelf, as_of)
            if (name := one.contract.contract)
        ]
        shown = [one for one in seen if in_all or one.is_open]
        prices = list(_prices(books.shelf, (one for one in shown if one.is_open)))
    totals = {one.progress.contract.contract: one.totals for one in shown}
    report = Report(
        asked.tongue.says("Buying"),
        [
            contracts_table([one.progress for one in shown], totals),
            prices_table(prices),
        ],
        links=_LINKS,
    )
    return show_report(
        asked,
        report,
        template="buying.html",
        as_of=as_of,
        in_all=in_all,
        late=sum(one.is_late for one in seen),
        open_count=sum(one.is_open for one in seen),
        all_count=len(seen),
    )


def _prices(shelf: Shelf, seen: Iterable[_Seen]) -> Iterator[tuple[str, PriceToday]]:
    for one in seen:
        name, as_of = one.progress.contract.contract, one.progress.as_of
        signed = shelf.introducer(Subject(SubjectKind.CONTRACT, name))
        if signed is not None:
            yield name, price_today(shelf, signed, as_of)


def show_contract(asked: Asked) -> Response:
    """Show one contract: how far it is, what it owes, and its papers."""
    as_of, name = asked.as_of(), asked.part("contract")
    with asked.books() as books:
        signed = _signed(books.shelf, name)
        as_of = max(as_of, signed.occurred_on)
        progress = fulfilment_of(books.shelf, signed, as_of)
        dues = dues_of(books.shelf, name, as_of)
        fixations = recorded_until(books.shelf, name, "price.fixed", as_of)
        papers = papers_about(books.shelf, SubjectKind.CONTRACT, name)
    tables = [
        consignments_table((name, one) for one in progress.consignments),
        contract_table(dues),
        payments_table(dues),
        papers_table(papers, kept_of(lambda: asked.office.papers, papers)),
    ]
    if fixations:
        tables.insert(0, fixations_table(fixations))
    report = Report(
        asked.tongue.says(f"Contract {name}"),
        tables,
        links=_LINKS,
        lead=list(_lead(asked.tongue, progress, dues)),
    )
    return show_report(
        asked,
        report,
        template="contract.html",
        as_of=as_of,
        progress=progress,
        prices=price_facts(asked, name, as_of),
        address=quote(name, safe=""),
        may_record=may_open(asked.person, BUYER),
        kg_text=kg_text,
        defers=DEFERS,
    )


def _lead(tongue: Tongue, progress: Fulfilment, dues: ContractDues) -> Iterator[str]:
    says = tongue.says
    if progress.ship_late_days:
        yield says(f"Late: it was to be shipped {progress.ship_late_days} days ago.")
    if progress.fix_late_days:
        yield says(
            f"Late: its price was to be fixed {progress.fix_late_days} days ago."
        )
    if any(total.overdue_minor for total in contract_totals(dues)):
        yield says("Late: payments to growers under it are overdue.")


def _signed(shelf: Shelf, name: str) -> Recorded:
    found = shelf.introducer(Subject(SubjectKind.CONTRACT, name))
    if found is None:
        raise NotFoundError(
            f"there is no contract {name!r}; choose one from the page Buying"
        )
    return found


PAGES: Final = (
    Page("GET", "/buying", show_buying, BUYER, menu="Buying"),
    Page("GET", "/contracts/{contract:path}", show_contract, BUYER | CERTIFIER),
)
