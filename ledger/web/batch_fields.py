"""Fields of a batch's sheet, by its step; what is seldom written down is folded away."""

from collections.abc import Iterator, Mapping
from typing import Final

from ledger.books.suggested import COMBINING
from ledger.trade.words import Form, LossReason, Step
from ledger.web.entry_fields import Field, Group
from ledger.web.floor_known import lots_on_hand, machines, places, recipes
from ledger.web.known import sites, words

_PIECES: Final = frozenset({Step.TEMPER, Step.MOULD, Step.WRAP, Step.PACK, Step.SPLIT})


def groups_of(step: Step) -> tuple[Group, ...]:
    """Return the fields of the sheet of a step."""
    return (
        Group(
            "The batch",
            (
                Field("batch", "Batch number", required=True),
                Field("equipment", "Machine or tank", "pick", choices=machines),
            ),
            further=(Field("site", "Site, if not the first", "choice", choices=sites),),
        ),
        Group(
            "What goes in",
            (
                Field("inputs.*.lot", "Lot", "scan", choices=lots_on_hand),
                Field("inputs.*.mass", "Mass", unit="kg"),
            ),
            rows=4 if step in COMBINING | {Step.TANK, Step.MIX} else 2,
        ),
        Group(
            "What comes out",
            (
                Field("outputs.*.lot", "Number of the new lot"),
                Field("outputs.*.form", "Form", "choice", choices=words(Form)),
                Field("outputs.*.mass", "Mass", unit="kg"),
                Field("outputs.*.recipe", "Recipe", "choice", choices=recipes),
                *(_PIECE_FIELDS if step in _PIECES else ()),
                Field("outputs.*.place", "Put in", "pick", choices=places),
            ),
            further=() if step in _PIECES else _PIECE_FIELDS,
            rows=2 if step in {Step.PRESS, Step.SPLIT} else 1,
        ),
        Group(
            "What was lost",
            (
                Field("losses.*.reason", "Why", "choice", choices=words(LossReason)),
                Field("losses.*.mass", "Mass", unit="kg"),
            ),
            rows=3,
        ),
        *_process(step),
    )


_PIECE_FIELDS: Final = (
    Field("outputs.*.pieces", "Pieces"),
    Field("outputs.*.best_before", "Best before", "day"),
)


def _process(step: Step) -> Iterator[Group]:
    """Yield what the operator writes down; what is seldom read at a step is folded away."""
    own: dict[Step, tuple[str, ...]] = {
        Step.TEMPER: ("carried", "cooling_minutes", "racking_minutes"),
        Step.MOULD: ("carried", "cooling_minutes", "racking_minutes"),
        Step.WRAP: ("pieces_per_minute",),
        Step.PACK: ("pieces_per_minute",),
        Step.TANK: (),
        Step.SPLIT: (),
    }
    first = own.get(step, ("hours",))
    fields = {name: field for name, field in _WRITTEN_DOWN.items() if name in first}
    further = {
        name: field for name, field in _WRITTEN_DOWN.items() if name not in first
    }
    yield Group(
        "Process record",
        (*fields.values(), Field("record.operator", "Operator")),
        further=(*further.values(), Field("record.note", "Anything else")),
    )
    yield Group(
        "Temperatures",
        (
            Field(
                "record.temperatures.*.point",
                "Where or when",
            ),
            Field(
                "record.temperatures.*.value",
                "Temperature",
                unit="°C",
            ),
        ),
        rows=2,
    )
    yield Group(
        "Tastings",
        (
            Field("record.tastings.*.after_hours", "At hour"),
            Field("record.tastings.*.note", "What was found"),
            Field("record.tastings.*.taster", "Who tasted"),
        ),
        rows=4 if step is Step.CONCHE else 1,
    )


_WRITTEN_DOWN: Final[Mapping[str, Field]] = {
    "hours": Field("record.hours", "How long it ran", unit="h"),
    "carried": Field("record.carried", "Carried to the depositor at a time", unit="kg"),
    "cooling_minutes": Field("record.cooling_minutes", "Cooling tunnel", unit="min"),
    "racking_minutes": Field(
        "record.racking_minutes", "On racks before demoulding", unit="min"
    ),
    "pieces_per_minute": Field("record.pieces_per_minute", "Pieces a minute"),
}
