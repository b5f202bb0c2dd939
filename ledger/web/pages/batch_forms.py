"""Logging a batch: a form for each step, filled in as far as the recipe and habit go."""

from collections.abc import Iterator, Mapping
from datetime import date
from functools import partial
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.lookup import recipe_named
from ledger.books.shelf import Shelf
from ledger.books.stock import stock_on
from ledger.books.suggested import COMBINING, Suggestion, suggest
from ledger.books.tank import tanks_in
from ledger.chain.canonical import JsonValue
from ledger.desk.batch_sheet import Sheet, sheet_for
from ledger.desk.batch_sums import Sums, sums_of
from ledger.errors import InputError
from ledger.intake.scanned import scanned_lot
from ledger.reports.figures import kg_text, percent_text
from ledger.reports.phrases import told
from ledger.reports.suggestion_table import suggestion_table
from ledger.reports.tables import PLAIN_NUMBER
from ledger.reports.tank_picture import tank_picture
from ledger.trade.grams import to_grams
from ledger.trade.terms import ProcessLimit
from ledger.trade.unit import parse_mass
from ledger.trade.words import Form, Step
from ledger.web.access import FLOOR
from ledger.web.asked import Asked
from ledger.web.batch_fields import groups_of
from ledger.web.entry_page import Body, EntryForm, Worked
from ledger.web.floor_known import recipes
from ledger.web.page import Page
from ledger.web.pages.lot_forms import of_lots

ADDRESS: Final = "/batches/new"
_UNITS: Final = (
    "Masses are in kg and temperatures in °C, unless their unit stands behind them, such "
    "as 27.5 lb or 125 F. A scanner may type into every field that asks for a lot."
)
_LISTS: Final = {"losses": "mass", "temperatures": "value", "tastings": "note"}
"""Lists whose rows are filled in beforehand, and what makes a row one that counts."""
_TANKS: Final = frozenset({Step.TANK, Step.TEMPER, Step.MOULD})


def show_steps(asked: Asked) -> Response:
    """Ask for the step first: each has a sheet of its own."""
    lot = asked.query("inputs.0.lot")
    query = f"?inputs.0.lot={quote(lot, safe='')}" if lot else ""
    return asked.page(
        "batch_steps.html", steps=[(step, _address(step) + query) for step in Step]
    )


def _address(step: Step) -> str:
    return f"{ADDRESS}/{quote(step.value, safe='')}"


def _batch_page(body: Body) -> str:
    return f"/batches/{quote(str(body.get('batch', '')), safe='')}"


def _first(step: Step, asked: Asked, shelf: Shelf) -> Mapping[str, str]:
    """Return what is filled in beforehand: names, usual losses, and what to take."""
    on = asked.day("on") or asked.office.today()
    sheet = sheet_for(shelf, step, on)
    found = _suggestion(step, asked, shelf, on)
    return {
        "batch": sheet.name,
        "record.operator": asked.person.name,
        **dict(_outputs(sheet, found)),
        **{f"losses.{n}.reason": one.value for n, one in enumerate(sheet.losses)},
        **{f"record.temperatures.{n}.point": one for n, one in enumerate(sheet.points)},
        **(dict(_inputs(found)) if found else {}),
    }


def _outputs(sheet: Sheet, found: Suggestion | None) -> Iterator[tuple[str, str]]:
    for place, form in enumerate(sheet.forms or (Form.BEAN,)):
        name = sheet.name if place == 0 else f"{sheet.name}-{form}"
        yield f"outputs.{place}.lot", name.replace(" ", "-")
        if sheet.forms:
            yield f"outputs.{place}.form", form.value
    if found is not None:
        yield "outputs.0.recipe", found.recipe.recipe
        yield "outputs.0.mass", kg_text(found.wanted_g)


def _inputs(found: Suggestion) -> Iterator[tuple[str, str]]:
    takes = [take for one in found.ingredients for take in one.takes]
    for place, take in enumerate(takes):
        yield f"inputs.{place}.lot", take.lot
        yield f"inputs.{place}.mass", kg_text(take.grams)


def _suggestion(step: Step, asked: Asked, shelf: Shelf, on: date) -> Suggestion | None:
    """Return what to take for the recipe and mass that the address names, if it does.

    Raises:
        InputError: The mass cannot be read, or is nothing.
        EntryRefusedError: There is no such recipe.
    """
    name, wanted = asked.query("recipe"), asked.query("wanted")
    if not name or not wanted or step not in COMBINING:
        return None
    typed = f"{wanted} kg" if PLAIN_NUMBER.fullmatch(wanted) else wanted
    wanted_g = to_grams(parse_mass(typed))
    if wanted_g <= 0:
        raise InputError(
            f"wanted is {wanted!r}, but something must come out; write a mass above 0"
        )
    return suggest(
        shelf,
        recipe_named(shelf, name, field="recipe"),
        step,
        wanted_g=wanted_g,
        stock=stock_on(shelf, on),
        on=on,
    )


def _shown(step: Step, asked: Asked, shelf: Shelf) -> Mapping[str, object]:
    """Return what stands above and below the sheet."""
    on = asked.day("on") or asked.office.today()
    found = (
        _suggestion(step, asked, shelf, on) if asked.request.method == "GET" else None
    )
    pictures = (
        [
            tank_picture(tank, asked.tongue.says)
            for tank in tanks_in(shelf, stock_on(shelf, on))
        ]
        if step in _TANKS
        else []
    )
    return {
        "combines": step in COMBINING,
        "recipes": list(recipes(shelf)),
        "recipe": asked.query("recipe"),
        "wanted": asked.query("wanted"),
        "suggestion": suggestion_table(found) if found else None,
        "usual": [usual_words(asked, one) for one in sheet_for(shelf, step, on).limits],
        "pictures": pictures,
    }


def usual_words(asked: Asked, limit: ProcessLimit) -> tuple[str, str]:
    """Return what a limit is about, and the range that is usual."""
    lowest, highest = (
        None if bound is None else f"{bound.normalize():f}"
        for bound in (limit.lowest, limit.highest)
    )
    says, figure = asked.tongue.says, asked.tongue.figure
    if lowest is None:
        range_ = says(f"at most {highest}")
    elif highest is None:
        range_ = says(f"at least {lowest}")
    else:
        range_ = told(says("{1} to {2}"), figure(lowest), figure(highest))
    return says(limit.measure), range_


def _completed(step: Step, body: Body) -> Body:
    """Return the body with its step, lots as scanned, and no row that only habit filled."""
    done: Body = {**body, "step": step.value}
    done["inputs"] = [
        {**row, "lot": scanned_lot(str(row.get("lot", "")))} if "lot" in row else row
        for row in _rows(body, "inputs")
    ]
    done["losses"] = _meant(body, "losses")
    record = body.get("record")
    if isinstance(record, dict):
        lists = {name: _meant(record, name) for name in ("temperatures", "tastings")}
        done["record"] = _filled({**record, **lists})
    return _filled(done)


def _filled(body: Mapping[str, JsonValue]) -> Body:
    """Return a body without lists and groups that are empty."""
    return {name: value for name, value in body.items() if value not in ([], {})}


def _meant(body: Mapping[str, JsonValue], name: str) -> list[JsonValue]:
    sign = _LISTS[name]
    return [
        row
        for row in _rows(body, name)
        if any(key == sign or key.startswith(f"{sign}_") for key in row)
        or (name == "tastings" and "after_hours" in row)
    ]


def _rows(body: Mapping[str, JsonValue], name: str) -> list[dict[str, JsonValue]]:
    rows = body.get(name)
    return (
        [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    )


def _worked_out(asked: Asked, on: date, body: Body) -> Worked:
    """Return the sums of the sheet, and what its lots are."""
    lots = [str(row["lot"]) for row in _rows(body, "inputs") if row.get("lot")]
    return (*_sums(asked, sums_of(body)), *of_lots(asked, on, lots))


def _sums(asked: Asked, sums: Sums) -> Iterator[tuple[str, str]]:
    says, figure = asked.tongue.says, asked.tongue.figure
    for label, grams in (
        (says("Goes in"), sums.taken_g),
        (says("Comes out"), sums.given_g),
        (says("Lost"), sums.lost_g),
    ):
        yield label, f"{figure(kg_text(grams))} kg"
    if sums.excess_g:
        yield (
            says("Not accounted for"),
            f"{figure(kg_text(sums.excess_g))} kg",
        )
    if sums.ratio is not None:
        yield says("Yield"), f"{figure(percent_text(sums.ratio))} %"


def _form(step: Step) -> EntryForm:
    return EntryForm(
        kind="batch.made",
        address=_address(step),
        title=f"Log a batch: {step}",
        lead=_UNITS,
        day="Day",
        groups=groups_of(step),
        done=_batch_page,
        first=partial(_first, step),
        completed=partial(_completed, step),
        worked_out=_worked_out,
        template="batch_form.html",
        shown=partial(_shown, step),
    )


FORMS: Final[Mapping[Step, EntryForm]] = {step: _form(step) for step in Step}
"""The sheet of each step."""

PAGES: Final[tuple[Page, ...]] = (
    Page("GET", ADDRESS, show_steps, FLOOR),
    *(page for form in FORMS.values() for page in form.pages(FLOOR)),
)
