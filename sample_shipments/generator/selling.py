"""Selling: who ordered what and when, which lots it came from, and with which claim."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from sample_shipments.generator import incident
from sample_shipments.generator.balance import Balance
from sample_shipments.generator.cast import CUSTOMERS, Customer
from sample_shipments.generator.factory import Factory
from sample_shipments.generator.product import PRODUCTS, Product
from sample_shipments.generator.workday import LAST, month_of, on_or_after

_FIRST_ORDERS = date(2024, 11, 12)
_SEASON = (72, 95, 112, 104, 88, 82, 78, 84, 104, 112, 132, 146)
"""Per cent of the usual order, January to December."""
_LEAST_CASES = {"bar": 6, "couverture": 4, "nib": 6}


@dataclass(frozen=True, slots=True)
class Line:
    """Mass of one lot in a sale.

    Attributes:
        product: Product.
        lot: Lot.
        pieces: Number of bars, blocks or bags.
        claimed: Whether it is sold under the claim.
    """

    product: Product
    lot: str
    pieces: int
    claimed: bool

    @property
    def grams(self) -> int:
        """Its mass."""
        return self.pieces * self.product.unit_g


@dataclass(frozen=True, slots=True)
class Sale:
    """One sale.

    Attributes:
        on: Day.
        name: Name.
        document: Number of the invoice.
        customer: Who bought.
        lines: What left.
    """

    on: date
    name: str
    document: str
    customer: Customer
    lines: tuple[Line, ...]

    @property
    def minor(self) -> int:
        """Invoiced value in pence or cents."""
        return sum(line.pieces * line.product.pence for line in self.lines)


@dataclass(frozen=True, slots=True)
class Return:
    """Goods that came back, and the sale they were part of."""

    planned: incident.PlannedReturn
    sale: str


@dataclass(slots=True)
class Shop:
    """Fills the orders of two years; afterwards it holds every sale and return."""

    factory: Factory
    balance: Balance = field(default_factory=Balance)
    sales: list[Sale] = field(default_factory=list)
    returns: list[Return] = field(default_factory=list)
    doubled: Sale | None = None
    _is_found: bool = False

    def run(self) -> None:
        """Fill every order in the order of its date."""
        held = PRODUCTS[incident.HELD_LOT[:3]]
        lost_g = incident.WRITTEN_OFF_BARS * held.unit_g
        self.factory.stock.move(incident.HELD_LOT, incident.WRITTEN_OFF_ON, -lost_g)
        self.balance.draw(held, incident.WRITTEN_OFF_ON, lost_g)
        for day, customer in sorted(_orders(), key=lambda o: (o[0], o[1].party)):
            self._take_back(day)
            self._find_doubled(day)
            lines = tuple(self._lines(customer, day))
            if lines:
                self._sell(day, customer, lines)

    def _sell(self, day: date, customer: Customer, lines: tuple[Line, ...]) -> None:
        number = len(self.sales) + 1
        document = f"INV-{day:%y}-{number:04d}"
        sale = Sale(day, f"SA-{number:04d}", document, customer, lines)
        self.sales.append(sale)
        if self.doubled is None and self._is_typed_twice(sale):
            self.doubled = replace(sale, name=f"SA-{number + 1:04d}")
            self.sales.append(self.doubled)
            self._book(self.doubled)

    def _is_typed_twice(self, sale: Sale) -> bool:
        return (
            month_of(sale.on) == incident.DOUBLED_MONTH
            and len(sale.lines) == 1
            and sale.lines[0].claimed
            and sale.lines[0].product.code == "C66"
            and self.factory.stock.left(sale.lines[0].lot) > sale.lines[0].grams * 3
        )

    def _book(self, sale: Sale) -> None:
        for line in sale.lines:
            self.factory.stock.move(line.lot, sale.on, -line.grams)
            if line.claimed:
                self.balance.draw(line.product, sale.on, line.grams)

    def _lines(self, customer: Customer, day: date) -> Iterator[Line]:
        for code, cases in customer.usual.items():
            product = PRODUCTS[code]
            wanted = cases * _SEASON[day.month - 1] // 100 * product.case
            least = _LEAST_CASES[product.form] * product.case
            lots = self._lots(code, day)
            pieces = {lot: self._on_sale(lot, day) // product.unit_g for lot in lots}
            if min(wanted, sum(pieces.values())) < least:
                continue
            for lot in lots:
                taken = min(wanted, pieces[lot])
                if taken:
                    wanted -= taken
                    yield self._line(customer, product, lot, day, taken)

    def _line(
        self, customer: Customer, product: Product, lot: str, day: date, pieces: int
    ) -> Line:
        grams = pieces * product.unit_g
        claimed = customer.claims and self.balance.allows(product, day, grams)
        self.factory.stock.move(lot, day, -grams)
        if claimed:
            self.balance.draw(product, day, grams)
        return Line(product, lot, pieces, claimed)

    def _on_sale(self, lot: str, day: date) -> int:
        free = self.factory.stock.free(lot, day)
        if lot == incident.HELD_LOT and day < incident.RELEASED_ON:
            return 0 if day >= incident.HELD_FROM else free
        return free

    def _lots(self, code: str, day: date) -> list[str]:
        return [
            lot
            for since, product, lot in self.factory.for_sale
            if product == code and since <= day
        ]

    def _take_back(self, day: date) -> None:
        for planned in incident.RETURNS:
            done = [back.planned for back in self.returns]
            if planned.on > day or planned in done:
                continue
            sale, line = next(
                (sale, line)
                for sale in self.sales
                for line in sale.lines
                if line.lot == planned.lot and line.pieces >= planned.pieces
            )
            self.factory.stock.move(planned.lot, planned.on, planned.grams)
            if line.claimed:
                self.balance.give_back(line.product, planned.on, planned.grams)
            self.returns.append(Return(planned, sale.name))

    def _find_doubled(self, day: date) -> None:
        """Let the goods of the sale that was typed twice be there again."""
        if self.doubled is None or self._is_found or day < incident.DOUBLING_FOUND:
            return
        self._is_found = True
        for line in self.doubled.lines:
            self.factory.stock.move(line.lot, incident.DOUBLING_FOUND, line.grams)
            self.balance.give_back(line.product, incident.DOUBLING_FOUND, line.grams)


def _orders() -> Iterator[tuple[date, Customer]]:
    for place, customer in enumerate(CUSTOMERS):
        day = _FIRST_ORDERS + timedelta(days=place * 5 % 21)
        while on_or_after(day) <= LAST:
            yield on_or_after(day), customer
            day += timedelta(days=customer.every_days)
