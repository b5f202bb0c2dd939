"""The sheet on which a batch is logged: what is usual at its step, before it is filled in.

Forms and losses that usually go with a step are common practice (no source); how long,
how hot and how often the maker's own list of limits says.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import limits_in_force
from ledger.books.shelf import Shelf
from ledger.trade.terms import ProcessLimit
from ledger.trade.words import Form, LossReason, Step

USUAL_FORMS: Final[Mapping[Step, tuple[Form, ...]]] = {
    Step.CLEAN: (Form.BEAN,),
    Step.ROAST: (Form.ROASTED_BEAN,),
    Step.WINNOW: (Form.NIB,),
    Step.GRIND: (Form.LIQUOR,),
    Step.PRESS: (Form.BUTTER, Form.CAKE),
    Step.MIX: (Form.CHOCOLATE,),
    Step.REFINE: (Form.CHOCOLATE,),
    Step.CONCHE: (Form.CHOCOLATE,),
    Step.TANK: (Form.CHOCOLATE,),
    Step.TEMPER: (Form.BAR,),
    Step.MOULD: (Form.BAR,),
    Step.WRAP: (Form.BAR,),
    Step.PACK: (Form.BAR,),
    Step.SPLIT: (),
}
"""Forms that usually come out of a step."""

USUAL_LOSSES: Final[Mapping[Step, tuple[LossReason, ...]]] = {
    Step.CLEAN: (LossReason.FOREIGN_MATTER, LossReason.DUST),
    Step.ROAST: (LossReason.MOISTURE, LossReason.FOREIGN_MATTER),
    Step.WINNOW: (LossReason.SHELL, LossReason.DUST),
    Step.GRIND: (LossReason.HOLD_UP, LossReason.MOISTURE),
    Step.PRESS: (LossReason.HOLD_UP,),
    Step.MIX: (LossReason.HOLD_UP,),
    Step.REFINE: (LossReason.HOLD_UP,),
    Step.CONCHE: (LossReason.MOISTURE, LossReason.HOLD_UP, LossReason.SAMPLE),
    Step.TEMPER: (LossReason.HOLD_UP, LossReason.SAMPLE),
    Step.MOULD: (LossReason.WASTE,),
    Step.WRAP: (LossReason.WASTE,),
    Step.PACK: (LossReason.WASTE,),
}
"""Reasons for which mass is usually lost at a step."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """An empty sheet.

    Attributes:
        step: Step of making.
        name: A name that neither a batch nor a lot has yet.
        forms: Forms that usually come out.
        losses: Reasons for which mass is usually lost.
        limits: What the maker's list in force calls usual at the step.
    """

    step: Step
    name: str
    forms: tuple[Form, ...]
    losses: tuple[LossReason, ...]
    limits: tuple[ProcessLimit, ...]

    @property
    def points(self) -> tuple[str, ...]:
        """Points at which a temperature is usually read."""
        ending = " temperature c"
        return tuple(
            one.measure.removesuffix(ending)
            for one in self.limits
            if one.measure.endswith(ending)
        )


def sheet_for(shelf: Shelf, step: Step, on: date) -> Sheet:
    """Return an empty sheet for a batch of a day."""
    return Sheet(
        step=step,
        name=_free_name(shelf, f"{step}-{on:%y%m%d}"),
        forms=USUAL_FORMS[step],
        losses=USUAL_LOSSES.get(step, ()),
        limits=_limits(shelf, step, on),
    )


def _limits(shelf: Shelf, step: Step, on: date) -> tuple[ProcessLimit, ...]:
    in_force = limits_in_force(shelf, on)
    found = () if in_force is None else in_force.limits
    return tuple(one for one in found if one.step is step)


def _free_name(shelf: Shelf, wished: str) -> str:
    name, number = wished, 1
    while any(
        shelf.introducer(Subject(kind, name)) is not None
        for kind in (SubjectKind.BATCH, SubjectKind.LOT)
    ):
        number += 1
        name = f"{wished}-{number}"
    return name
