"""Rows of figures as a program reads them: typed, and made from the tables of reports.

A mass is text in kilograms with three decimals and an amount is text in its currency, so
that no reader makes a float of them.
"""

from collections.abc import Mapping
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from ledger.reports.tables import Table, json_objects

Kilograms = Annotated[str, Field(pattern=r"^-?\d+\.\d{3}$")]
"""A mass in kilograms, exact to the gram."""
Percent = Annotated[str, Field(pattern=r"^-?\d+\.\d{4}$")]
"""A share in percent, rounded to four decimals."""
Amount = Annotated[str, Field(pattern=r"^-?\d+(\.\d+)?$")]
"""An amount of money, in the currency beside it."""
EntryNumber = Annotated[int, Field(ge=0)]
"""Number of the entry that this rests on."""


class Row(BaseModel):
    """One row; what is not known or does not apply is null."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)


class Figures(BaseModel):
    """Some rows, and what there is to say of them."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    title: str
    """What is shown, over what time and in what unit."""
    notes: list[str]
    """What must be known to read the figures, a sentence each."""


def example(**members: JsonValue) -> ConfigDict:
    """Return the settings of a model that shows one example of itself."""
    return ConfigDict(json_schema_extra={"examples": [dict(members)]})


AnyRow = TypeVar("AnyRow", bound=Row)


def rows_from(model: type[AnyRow], table: Table) -> list[AnyRow]:
    """Return the rows of a table as a program reads them."""
    return [model.model_validate(_without_blanks(one)) for one in json_objects(table)]


def said_of(table: Table) -> dict[str, Any]:
    """Return title and notes of a table, as members of figures."""
    return {"title": table.title, "notes": list(table.notes)}


def _without_blanks(cells: Mapping[str, str]) -> dict[str, str | None]:
    return {key: cell or None for key, cell in cells.items()}
