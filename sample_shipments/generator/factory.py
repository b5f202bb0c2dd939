"""Making: the plan run through the factory, step by step, mass kept to the gram."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from sample_shipments.generator.contract import contract_named
from sample_shipments.generator.cycle import RETURNED_BARS, RETURNED_LOT, Cycle, cycles
from sample_shipments.generator.delivery import DELIVERIES
from sample_shipments.generator.paper import Row
from sample_shipments.generator.process_record import (
    conche_record,
    temper_record,
    wrap_record,
)
from sample_shipments.generator.product import PRODUCTS, Product
from sample_shipments.generator.shipment import SHIPMENTS
from sample_shipments.generator.stock import Stock
from sample_shipments.generator.workday import after


@dataclass(frozen=True, slots=True)
class Out:
    """What a batch gave.

    Attributes:
        lot: Number of the new lot.
        form: Its form.
        grams: Its mass.
        more: Further columns of its row.
    """

    lot: str
    form: str
    grams: int
    more: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as it is written down.

    Attributes:
        on: Day.
        name: Batch number.
        step: Step of making.
        equipment: Machine or tank.
        inputs: Lots taken from, with masses in grams.
        outputs: Lots given.
        losses: Losses in grams by reason.
        record: Columns of the process record.
    """

    on: date
    name: str
    step: str
    equipment: str
    inputs: list[tuple[str, int]]
    outputs: list[Out]
    losses: dict[str, int]
    record: Row = field(default_factory=dict)


@dataclass(slots=True)
class Factory:
    """Runs the plan; afterwards it holds the batches and what is left of every lot."""

    stock: Stock = field(default_factory=Stock)
    batches: list[Batch] = field(default_factory=list)
    for_sale: list[tuple[date, str, str]] = field(default_factory=list)
    """Day from which a lot can be sold, its product and its number."""
    _heels: dict[str, str] = field(default_factory=dict)

    def run(self) -> None:
        """Take everything in and run every cycle of the plan."""
        for shipment in SHIPMENTS:
            for lot in shipment.lots:
                if not lot.rejected:
                    self.stock.move(lot.lot, shipment.received, lot.landed_g)
        for delivery in DELIVERIES:
            self.stock.move(delivery.lot, delivery.on, delivery.grams)
        for cycle in cycles():
            self._run(cycle)

    def _run(self, cycle: Cycle) -> None:
        product = PRODUCTS[cycle.product]
        nibs = self._roast_and_winnow(cycle, product)
        liquor = self._grind(cycle, nibs)
        chocolate = self._conche(cycle, product, liquor)
        tank = self._fill_tank(cycle, product, chocolate)
        day = after(cycle.start, 7)
        if product.form == "couverture":
            self._mould_blocks(cycle, product, tank, day)
            return
        heel = 22_000 + 1_500 * (int(cycle.number) % 5)
        whole = self.stock.left(tank) - heel
        first = whole * 55 // 100 if cycle.two_runs else whole
        self._mould_and_wrap(cycle, product, tank, day, "a", first)
        if cycle.two_runs:
            self._mould_and_wrap(
                cycle, product, tank, after(day, 4), "b", whole - first
            )

    def _add(self, batch: Batch) -> None:
        given = sum(out.grams for out in batch.outputs) + sum(batch.losses.values())
        taken = sum(grams for _, grams in batch.inputs)
        if given != taken:
            raise ValueError(f"{batch.name} takes {taken} g and accounts for {given} g")
        for out in batch.outputs:
            self.stock.move(out.lot, batch.on, out.grams)
        self.batches.append(batch)

    def _roast_and_winnow(self, cycle: Cycle, product: Product) -> str:
        number = int(cycle.number)
        beans = self.stock.draw(_beans(product), cycle.start, cycle.beans_g)
        moisture = cycle.beans_g * (270 + 17 * (number * 5 % 9)) // 10000
        foreign = 400 + 130 * (number % 6)
        roasted = cycle.beans_g - moisture - foreign
        self._add(
            Batch(
                cycle.start,
                f"B{cycle.number}-roast",
                "roast",
                "drum-roaster",
                beans,
                [Out(f"RB-{cycle.number}", "roasted bean", roasted)],
                {"moisture": moisture, "foreign matter": foreign},
                {"hours": str(8 + number % 3), "operator": _operator(number)},
            )
        )
        shell = roasted * (1780 + 31 * (number * 7 % 13)) // 10000
        dust = roasted * (35 + number % 4 * 6) // 10000
        day = after(cycle.start, 1)
        nibs = f"NB-{cycle.number}"
        self._add(
            Batch(
                day,
                f"B{cycle.number}-winnow",
                "winnow",
                "winnower",
                self.stock.draw([f"RB-{cycle.number}"], day, roasted),
                [Out(nibs, "nib", roasted - shell - dust)],
                {"shell": shell, "dust": dust},
                {"operator": _operator(number + 1)},
            )
        )
        if cycle.nibs_kept_g:
            self.for_sale.append((after(day, 2), "NIB", nibs))
        return nibs

    def _grind(self, cycle: Cycle, nibs: str) -> str:
        number, day = int(cycle.number), after(cycle.start, 2)
        taken = self.stock.left(nibs) - cycle.nibs_kept_g
        hold_up = 1_900 + 240 * (number * 3 % 7)
        moisture = taken * 6 // 1000
        liquor = f"LQ-{cycle.number}"
        self._add(
            Batch(
                day,
                f"B{cycle.number}-grind",
                "grind",
                "ball-mill",
                self.stock.draw([nibs], day, taken),
                [Out(liquor, "liquor", taken - hold_up - moisture)],
                {"machine hold-up": hold_up, "moisture": moisture},
                {"hours": str(9 + number % 4), "operator": _operator(number + 1)},
            )
        )
        return liquor

    def _conche(self, cycle: Cycle, product: Product, liquor: str) -> str:
        number, day = int(cycle.number), after(cycle.start, 5)
        liquor_g = self.stock.left(liquor)
        whole = liquor_g * 100 // product.parts["liquor"]
        inputs = self.stock.draw([liquor], day, liquor_g)
        for part, percent in product.parts.items():
            if part != "liquor":
                lots = _ingredients(part, organic=product.organic)
                inputs += self.stock.draw(lots, day, whole * percent // 100)
        inputs += self._rework(cycle, day)
        record, tastings = conche_record(cycle)
        losses = {
            "moisture": whole * 3 // 1000,
            "machine hold-up": 1_200 + 150 * (number % 6),
            "sample": 60 * tastings,
        }
        made = sum(grams for _, grams in inputs) - sum(losses.values())
        chocolate = f"CH-{cycle.number}"
        self._add(
            Batch(
                day,
                f"B{cycle.number}-conche",
                "conche",
                "conche-1",
                inputs,
                [Out(chocolate, "chocolate", made, {"recipe": product.code})],
                losses,
                {**record, "operator": _operator(number)},
            )
        )
        return chocolate

    def _rework(self, cycle: Cycle, day: date) -> list[tuple[str, int]]:
        inputs = []
        for lot in cycle.rework:
            grams = RETURNED_BARS * 70 if lot == RETURNED_LOT else self.stock.left(lot)
            self.stock.move(lot, day, -grams)
            inputs.append((lot, grams))
        return inputs

    def _fill_tank(self, cycle: Cycle, product: Product, chocolate: str) -> str:
        """Fill the tank: what was left in it and what comes in make a new lot."""
        day, tank = after(cycle.start, 6), f"{product.tank}-{cycle.number}"
        inputs = self.stock.draw([chocolate], day, self.stock.left(chocolate))
        heel = self._heels.get(product.tank)
        if heel:
            inputs += self.stock.draw([heel], day, self.stock.left(heel))
        whole = sum(grams for _, grams in inputs)
        self._heels[product.tank] = tank
        more = {"recipe": product.code, "place": product.tank}
        self._add(
            Batch(
                day,
                f"B{cycle.number}-tank",
                "tank",
                product.tank,
                inputs,
                [Out(tank, "chocolate", whole, more)],
                {},
                {"operator": _operator(int(cycle.number) + 1)},
            )
        )
        return tank

    def _mould_blocks(
        self, cycle: Cycle, product: Product, tank: str, day: date
    ) -> None:
        number = int(cycle.number)
        loss = {"machine hold-up": 900 + 110 * (number % 5), "sample": 250}
        room = self.stock.left(tank) - 12_000 - 700 * (number % 4)
        blocks = (room - sum(loss.values())) // product.unit_g
        made = blocks * product.unit_g
        lot = f"{product.code}-{cycle.number}"
        more = {
            "recipe": product.code,
            "pieces": str(blocks),
            "best_before": _best_before(day),
            "place": "cold-store",
        }
        record = temper_record(number, exit_f=cycle.exit_f, racked=False)
        self._add(
            Batch(
                day,
                f"B{cycle.number}-temper",
                "temper",
                "temperer-1",
                self.stock.draw([tank], day, made + sum(loss.values())),
                [Out(lot, product.form, made, more)],
                loss,
                {**record, "operator": _operator(number)},
            )
        )
        self.for_sale.append((after(day, 1), product.code, lot))

    def _mould_and_wrap(
        self, cycle: Cycle, product: Product, tank: str, day: date, run: str, taken: int
    ) -> None:
        number = int(cycle.number) + (run == "b")
        loss = {"machine hold-up": 800 + 90 * (number % 7), "sample": 210}
        bars = f"UB-{cycle.number}{run}"
        moulded = taken - sum(loss.values())
        more = {"recipe": product.code, "place": "racks"}
        record = temper_record(number, exit_f=cycle.exit_f, racked=True)
        self._add(
            Batch(
                day,
                f"B{cycle.number}-temper-{run}",
                "temper",
                "temperer-1",
                self.stock.draw([tank], day, taken),
                [Out(bars, "bar", moulded, more)],
                loss,
                {**record, "operator": _operator(number)},
            )
        )
        self._wrap(cycle, product, after(day, 1), run, bars)

    def _wrap(
        self, cycle: Cycle, product: Product, day: date, run: str, bars: str
    ) -> None:
        number, moulded = int(cycle.number), self.stock.left(bars)
        bloomed = cycle.bloomed_g if run == "a" else 0
        broken = 600 + 170 * (number % 5)
        pieces = (moulded - bloomed - broken) // product.unit_g
        wrapped = pieces * product.unit_g
        lot = f"{product.code}-{cycle.number}{run}"
        more = {
            "recipe": product.code,
            "pieces": str(pieces),
            "best_before": _best_before(day),
            "place": "cold-store",
        }
        outputs = [Out(lot, "bar", wrapped, more)]
        if bloomed:
            kept = {"recipe": product.code, "place": "rework-shelf"}
            outputs.append(Out(f"RW-{cycle.number}{run}", "bar", bloomed, kept))
        self._add(
            Batch(
                day,
                f"B{cycle.number}-wrap-{run}",
                "wrap",
                "wrapper-1",
                self.stock.draw([bars], day, moulded),
                outputs,
                {"waste": moulded - bloomed - wrapped},
                {**wrap_record(number), "operator": _operator(number + 1)},
            )
        )
        self.for_sale.append((after(day, 1), product.code, lot))


def _beans(product: Product) -> list[str]:
    return [
        lot.lot
        for shipment in SHIPMENTS
        if contract_named(shipment.contract).organic is product.organic
        for lot in shipment.lots
        if not lot.rejected
    ]


def _ingredients(part: str, *, organic: bool) -> Sequence[str]:
    starts = {"butter": "BU", "milk": "MP", "sugar": "SO" if organic else "SU"}[part]
    return [d.lot for d in DELIVERIES if d.lot.startswith(starts)]


def _best_before(day: date) -> str:
    return str(day.replace(year=day.year + 1, day=1))


def _operator(number: int) -> str:
    return f"operator-{1 + number % 3}"
