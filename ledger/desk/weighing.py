"""Weights as a note gives them: what follows from gross and tare, and in kilograms."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ledger.books.lookup import expect
from ledger.books.opening import parse_body
from ledger.chain.canonical import JsonValue
from ledger.errors import LedgerError
from ledger.trade.grams import to_grams
from ledger.trade.record import Measured, Record
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.unit import parse_mass

_GROSS, _TARE = "gross", "tare"


def with_net(
    body: Mapping[str, JsonValue], net: str, *, at: str = ""
) -> dict[str, JsonValue]:
    """Return a body in which a net weight that was left out is gross less tare.

    Args:
        body: Body of an entry, figures under `…_kg` or, with their unit, without.
        net: Name of the net weight without its unit, such as "net_landed".
        at: List of the body in whose items the weights stand; empty for the body itself.

    Raises:
        InputError: Gross or tare is not a mass.
    """
    filled = dict(body)
    if at:
        items = filled.get(at)
        if isinstance(items, list):
            filled[at] = [
                with_net(item, net) if isinstance(item, dict) else item
                for item in items
            ]
        return filled
    gross, tare = _mass(filled, _GROSS), _mass(filled, _TARE)
    is_given = net in filled or f"{net}_kg" in filled
    if gross is not None and tare is not None and not is_given:
        filled[f"{net}_kg"] = f"{gross - tare:f}"
    return filled


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the lots of a receipt weigh together.

    Attributes:
        shipped_g: Net grams shipped of the lots that were accepted.
        landed_g: Net grams landed of them.
        bags: Their bags, where each says how many.
    """

    shipped_g: int
    landed_g: int
    bags: int | None

    @property
    def lost(self) -> Fraction:
        """Part of the shipped weight that did not land; below zero for a gain."""
        return Fraction(self.shipped_g - self.landed_g, self.shipped_g)


def weighed(body: dict[str, JsonValue]) -> Weighed | None:
    """Return what the accepted lots of a receipt weigh together.

    None where the body does not follow its model, or every lot is rejected.
    """
    try:
        received = expect(parse_body(ShipmentReceived.kind, body), ShipmentReceived)
    except LedgerError:
        return None
    taken = [lot for lot in received.lots if lot.decision == "accepted"]
    bags = [lot.bags for lot in taken if lot.bags is not None]
    if not taken:
        return None
    return Weighed(
        shipped_g=sum(to_grams(lot.net_shipped_kg) for lot in taken),
        landed_g=sum(to_grams(lot.net_landed_kg) for lot in taken),
        bags=sum(bags) if len(bags) == len(taken) else None,
    )


def _mass(body: Mapping[str, JsonValue], name: str) -> Decimal | None:
    typed, plain = body.get(name), body.get(f"{name}_kg")
    if isinstance(typed, str):
        return parse_mass(typed)
    return parse_mass(f"{plain} kg") if isinstance(plain, str) else None


def converted(kind: str, body: dict[str, JsonValue]) -> Iterator[tuple[str, str]]:
    """Yield every figure of a body that was typed in a unit of its own.

    Yields:
        The text as typed, and the figure in the unit of its field, such as
        "1250 lb" and "566.990". Nothing where the body does not follow its model.
    """
    try:
        record = parse_body(kind, body)
    except LedgerError:
        return
    yield from _typed_in(record)


def _typed_in(record: Record) -> Iterator[tuple[str, str]]:
    if isinstance(record, Measured):
        for field, text in record.typed.items():
            yield text, f"{getattr(record, field):f}"
    for name in type(record).model_fields:
        inner = getattr(record, name)
        for one in inner if isinstance(inner, tuple) else (inner,):
            if isinstance(one, Record):
                yield from _typed_in(one)
