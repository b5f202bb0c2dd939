"""Making: one batch takes lots in and gives lots out, with its losses and its record."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, ClassVar, Final, Self, TypeVar

from pydantic import Field, model_validator

from ledger.trade.grams import from_grams, show_kg, to_grams
from ledger.trade.quantity import Celsius, Count, Hours, PositiveKilograms
from ledger.trade.record import Day, Measured, Name, Record, Text
from ledger.trade.unit import exact_kilograms
from ledger.trade.words import Form, LossReason, Step


class Part(Measured):
    """A mass that goes into a batch or comes out of it.

    Masses that balance in pounds may miss each other by some grams once each is rounded
    to the gram by itself. A batch then carries one gram in as many of its parts as it
    takes, so that mass in is mass out; so a mass may differ from what was typed by that.
    """

    may_differ: ClassVar[Decimal] = Decimal("0.001")


class Input(Part):
    """Mass taken from a lot."""

    lot: Name
    """The lot it is taken from."""
    mass_kg: PositiveKilograms
    """Mass taken."""


class Output(Part):
    """A new lot that the batch gives."""

    lot: Name
    """Number of the new lot."""
    form: Form
    """Form it has reached."""
    mass_kg: PositiveKilograms
    """Mass obtained."""
    recipe: Name | None = None
    """Recipe it is made to; needed for chocolate, couverture and bars."""
    pieces: Count | None = None
    """Number of bars or packs."""
    best_before: Day | None = None
    """Best-before date on the label."""
    place: Name | None = None
    """Tank, rack or store it is put in."""


class Loss(Part):
    """Mass that did not come out, and why."""

    reason: LossReason
    """Why."""
    mass_kg: PositiveKilograms
    """How much."""


class Temperature(Measured):
    """One reading of a thermometer."""

    point: Text
    """Where or when it was read: entry, exit, drop, peak."""
    value_c: Celsius
    """Degrees Celsius."""


class Tasting(Record):
    """One sample taken during the batch."""

    after_hours: Hours
    """Hours from the start."""
    note: Text
    """What was found."""
    taster: Name | None = None
    """Who tasted."""


class ProcessRecord(Measured):
    """What the operator wrote down."""

    hours: Hours | None = None
    """How long it ran."""
    temperatures: tuple[Temperature, ...] = ()
    """Temperatures read."""
    tastings: tuple[Tasting, ...] = ()
    """Samples tasted."""
    carried_kg: PositiveKilograms | None = None
    """Mass carried to the depositor at a time."""
    cooling_minutes: Count | None = None
    """Minutes in the cooling tunnel."""
    racking_minutes: Count | None = None
    """Minutes on racks before demoulding."""
    pieces_per_minute: Count | None = None
    """Pieces wrapped or deposited a minute."""
    operator: Name | None = None
    """Who ran it."""
    note: Text | None = None
    """Anything else."""


class BatchMade(Record):
    """A transformation: what went in, what came out, what was lost."""

    kind: ClassVar[str] = "batch.made"

    batch: Name
    """Batch number."""
    step: Step
    """Step of making."""
    equipment: Name | None = None
    """Machine or tank it ran on."""
    site: Name | None = None
    """Site; the first site where left out."""
    inputs: Annotated[tuple[Input, ...], Field(min_length=1)]
    """Lots taken from; rework is an ordinary input."""
    outputs: Annotated[tuple[Output, ...], Field(min_length=1)]
    """Lots given."""
    losses: tuple[Loss, ...] = ()
    """Losses by reason."""
    record: ProcessRecord | None = None
    """The process record."""

    @model_validator(mode="after")
    def _rounding_is_carried(self) -> Self:
        """Carry grams that only rounding left over: in losses, then outputs, then inputs.

        It is a whole batch that balances or not, so its parts are set here, once, before
        anybody has seen them.
        """
        excess_g = self._excess_g()
        exact_kg = _sum(self.inputs) - _sum(self.outputs) - _sum(self.losses)
        if not excess_g or abs(exact_kg) > _HALF_A_GRAM_KG:
            return self
        object.__setattr__(self, "losses", _carried(self.losses, excess_g))
        object.__setattr__(self, "outputs", _carried(self.outputs, self._excess_g()))
        object.__setattr__(self, "inputs", _carried(self.inputs, -self._excess_g()))
        return self

    def _excess_g(self) -> int:
        """Return the grams that went in and neither came out nor were lost."""
        taken, given, lost = (
            sum(to_grams(part.mass_kg) for part in parts)
            for parts in (self.inputs, self.outputs, self.losses)
        )
        return taken - given - lost

    @model_validator(mode="after")
    def _mass_is_conserved(self) -> Self:
        excess_g = self._excess_g()
        if excess_g:
            way_out = (
                f"weigh again or declare the loss of {show_kg(excess_g)} kg"
                if excess_g > 0
                else f"weigh again: {show_kg(-excess_g)} kg cannot come from nowhere"
            )
            taken, given, lost = (
                show_kg(sum(to_grams(part.mass_kg) for part in parts))
                for parts in (self.inputs, self.outputs, self.losses)
            )
            msg = (
                f"batch {self.batch} takes {taken} kg but gives {given} kg and loses "
                f"{lost} kg; inputs must equal outputs plus losses to the gram, so "
                f"{way_out}"
            )
            raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _names_are_used_once(self) -> Self:
        taken = [part.lot for part in self.inputs]
        given = [part.lot for part in self.outputs]
        for lot in (*taken, *given):
            if (*taken, *given).count(lot) > 1:
                msg = (
                    f"lot {lot} stands more than once in batch {self.batch}; add its "
                    "masses up, and give what comes out a new lot number"
                )
                raise ValueError(msg)
        return self


_HALF_A_GRAM_KG: Final = Fraction(1, 2000)
_P = TypeVar("_P", Input, Output, Loss)


def _exact_kg(part: Input | Output | Loss) -> Fraction:
    """Return a mass as it was typed, before it was rounded to the gram."""
    text = part.typed.get("mass_kg")
    return Fraction(part.mass_kg) if text is None else exact_kilograms(text)


def _sum(parts: Iterable[Input | Output | Loss]) -> Fraction:
    return sum((_exact_kg(part) for part in parts), Fraction(0))


def _carried(parts: tuple[_P, ...], excess_g: int) -> tuple[_P, ...]:
    """Return parts with grams added or, below zero, taken off: one a part, at most.

    Only figures that were rounded are touched, those first that were rounded away most.
    """
    step_kg = from_grams(1 if excess_g > 0 else -1)
    rounded = [
        (Fraction(step_kg) * (Fraction(part.mass_kg) - exact_kg), place)
        for place, part in enumerate(parts)
        if (exact_kg := _exact_kg(part)) != part.mass_kg and part.mass_kg + step_kg > 0
    ]
    chosen = {place for _, place in sorted(rounded)[: abs(excess_g)]}
    return tuple(
        part.model_copy(update={"mass_kg": part.mass_kg + step_kg})
        if place in chosen
        else part
        for place, part in enumerate(parts)
    )
