"""The certified accounts, as the maker would keep them before it promises a claim."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from sample_shipments.generator.contract import contract_named
from sample_shipments.generator.product import Product
from sample_shipments.generator.shipment import SHIPMENTS

KEPT_FREE_G = 280_000
"""What the compliance officer keeps free: a claim is made only above it."""


@dataclass(slots=True)
class Balance:
    """Bean equivalent bought and claimed, in grams, organic and conventional apart."""

    _moved: list[tuple[date, bool, int]] = field(
        default_factory=lambda: list(_receipts())
    )

    def free(self, on: date, *, organic: bool) -> int:
        """Return what can still be claimed on a day."""
        return sum(
            grams for day, kind, grams in self._moved if day <= on and kind is organic
        )

    def draw(self, product: Product, on: date, grams: int) -> None:
        """Take the bean equivalent of goods sold under a claim, or of goods lost."""
        self._moved.append((on, product.organic, -beans_of(product, grams)))

    def give_back(self, product: Product, on: date, grams: int) -> None:
        """Put back the bean equivalent of goods that came back, or never left."""
        self._moved.append((on, product.organic, beans_of(product, grams) - 1))

    def allows(self, product: Product, on: date, grams: int) -> bool:
        """Tell whether goods may be sold under a claim and leave the usual reserve."""
        free = self.free(on, organic=product.organic)
        return free - beans_of(product, grams) >= KEPT_FREE_G


def beans_of(product: Product, grams: int) -> int:
    """Return the bean equivalent of goods, rounded up to the gram."""
    beans = grams * product.beans_per_gram
    return -(-beans.numerator // beans.denominator)


def _receipts() -> Iterator[tuple[date, bool, int]]:
    for shipment in SHIPMENTS:
        organic = contract_named(shipment.contract).organic
        for lot in shipment.lots:
            if shipment.certified and not lot.rejected:
                yield shipment.received, organic, min(lot.shipped_g, lot.landed_g)
