"""Making: one batch takes lots in and gives lots out, with its losses and its record."""

from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from ledger.trade.grams import to_grams
from ledger.trade.quantity import Celsius, Count, Hours, PositiveKilograms
from ledger.trade.record import Day, Measured, Name, Record, Text
from ledger.trade.words import Form, LossReason, Step


class Input(Measured):
    """Mass taken from a lot."""

    lot: Name
    """The lot it is taken from."""
    mass_kg: PositiveKilograms
    """Mass taken."""


class Output(Measured):
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


class Loss(Measured):
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
    def _mass_is_conserved(self) -> Self:
        taken = sum(to_grams(part.mass_kg) for part in self.inputs)
        given = sum(to_grams(part.mass_kg) for part in self.outputs)
        lost = sum(to_grams(part.mass_kg) for part in self.losses)
        if taken != given + lost:
            msg = (
                f"batch {self.batch} takes {taken / 1000:.3f} kg but gives "
                f"{given / 1000:.3f} kg and loses {lost / 1000:.3f} kg; inputs must equal "
                "outputs plus losses to the gram, so weigh again or declare the loss of "
                f"{(taken - given - lost) / 1000:.3f} kg"
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
