"""Pages that record one kind of entry: a form, what saving it will do, and saving it.

A module for something that a person does describes its form; everything else (keeping
what was typed, sentences beside fields, foreseeing, another row) is alike for all.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Final

from starlette.responses import Response

from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.desk.asked_day import parse_day
from ledger.desk.record import Recording
from ledger.errors import InputError, LedgerError
from ledger.reports.phrases import told
from ledger.reports.tongue import Tongue
from ledger.web.asked import Asked
from ledger.web.body_form import figures_of
from ledger.web.entry_fields import Field, Group
from ledger.web.entry_form import (
    NOTHING_WRONG,
    Wrong,
    foresee_typed,
    is_for_fragment,
    record_typed,
    show_foretold,
    wrong_with,
)
from ledger.web.foretold import Foretold
from ledger.web.page import Page
from ledger.web.typed_body import body_of_fields, fields_of_body, with_units

Body = dict[str, JsonValue]
Worked = tuple[tuple[str, str], ...]
"""Pairs of words: what was worked out from what was typed, and the figure."""

DAY: Final = "on"
MOST_ROWS: Final = 100
"""Rows of a list that a form shows; more of them come in as a sheet."""
_PLACE: Final = re.compile(r"(?<=\.)\d{1,2}(?=\.|$)")
_OURS: Final = frozenset({"proof", "more", DAY})


def _as_typed(body: Body) -> Body:
    return body


def _nothing_first(_asked: Asked, _shelf: Shelf) -> Mapping[str, str]:
    return {}


def _nothing_shown(_asked: Asked, _shelf: Shelf) -> Mapping[str, object]:
    return {}


def _nothing_worked_out(_asked: Asked, _on: date, _body: Body) -> Worked:
    return ()


@dataclass(frozen=True, slots=True)
class EntryForm:
    """A form that records one kind of entry.

    Attributes:
        kind: Kind of the entry.
        address: Address of its page.
        title: Title of its page.
        groups: Its fields.
        done: Gives the page to go to once it is recorded.
        lead: What to know first.
        caution: What to beware of.
        day: What the day of the entry is called; empty where the body says it.
        first: Gives what stands in the fields before somebody types.
        completed: Fills in what follows from what was typed.
        worked_out: Gives what was worked out from it, to be read before saving.
        day_of: Gives the day of the entry where the body says it.
        template: Template of its page, which extends `entry_form.html`.
        shown: Gives what that template asks for besides.
    """

    kind: str
    address: str
    title: str
    groups: tuple[Group, ...]
    done: Callable[[Body], str]
    lead: str = ""
    caution: str = ""
    day: str = ""
    first: Callable[[Asked, Shelf], Mapping[str, str]] = _nothing_first
    completed: Callable[[Body], Body] = _as_typed
    worked_out: Callable[[Asked, date, Body], Worked] = _nothing_worked_out
    day_of: Callable[[Body], str] | None = None
    template: str = "entry_form.html"
    shown: Callable[[Asked, Shelf], Mapping[str, object]] = _nothing_shown

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field of every group."""
        return tuple(one for group in self.groups for one in group.all_fields)

    def pages(self, may: frozenset[str]) -> tuple[Page, ...]:
        """Return the pages of the form: empty, saved, and what saving would do."""
        return (
            Page("GET", self.address, partial(_show_empty, self), may),
            Page("POST", self.address, partial(_save, self), may),
            Page("POST", f"{self.address}/preview", partial(_preview, self), may),
        )


def _show_empty(form: EntryForm, asked: Asked) -> Response:
    with asked.books() as books:
        values = dict(form.first(asked, books.shelf))
    values |= _in_address(form, asked)
    values.setdefault(DAY, asked.query(DAY) or asked.office.today().isoformat())
    return _show(form, asked, values)


def _in_address(form: EntryForm, asked: Asked) -> Mapping[str, str]:
    """Return what the address says of fields of the form, such as `lots.0`."""
    paths = {one.path for one in form.fields}
    return {
        name: value.strip()
        for name, value in asked.request.query_params.items()
        if value.strip() and _PLACE.sub("*", name) in paths
    }


def _save(form: EntryForm, asked: Asked) -> Response:
    body = _typed(form, asked)
    if asked.text("more"):
        return _show(form, asked, _values(asked, body), more=asked.text("more"))
    try:
        on = _day(form, asked, body)
        completed = form.completed(body)
    except LedgerError as error:
        return _show(form, asked, _values(asked, body), wrong=_of_day(error))
    made = record_typed(asked, form.kind, on, completed)
    if isinstance(made, Wrong):
        return _show(form, asked, _values(asked, body), wrong=made)
    return asked.away(form.done(completed), said=said_of(asked, made))


def said_of(asked: Asked, made: Recording) -> str:
    """Return what is said once an entry is recorded, what is unusual included."""
    says = asked.tongue.says
    first = told(says("Recorded as entry {1}."), str(made.recorded.seq))
    warnings = (f"! {says(one.message)}." for one in made.judgement.warnings)
    return " ".join((first, *warnings))


def _preview(form: EntryForm, asked: Asked) -> Response:
    body = _typed(form, asked)
    worked: Worked = ()
    try:
        on = _day(form, asked, body)
        completed = form.completed(body)
        worked = form.worked_out(asked, on, completed)
        found = foresee_typed(asked, form.kind, on, completed)
    except LedgerError as error:
        found = Foretold(refusal=str(error), is_unfinished=not asked.text(DAY))
    if is_for_fragment(asked):
        return show_foretold(asked, found, worked_out=worked)
    return _show(form, asked, _values(asked, body), foretold=found, worked_out=worked)


def _show(
    form: EntryForm,
    asked: Asked,
    values: Mapping[str, str],
    *,
    wrong: Wrong = NOTHING_WRONG,
    foretold: Foretold | None = None,
    worked_out: Worked = (),
    more: str = "",
) -> Response:
    with asked.books() as books:
        choices = {
            one.path: [
                (value, _called(asked.tongue, called))
                for value, called in (
                    one.choices(books.shelf) if callable(one.choices) else one.choices
                )
            ]
            for one in form.fields
        }
        shown = form.shown(asked, books.shelf)
    names = {*values, *asked.form}
    rows = {
        group.list_path: _rows_of(group, names) + (more == group.list_path)
        for group in form.groups
        if group.rows
    }
    return asked.page(
        form.template,
        status=wrong.status,
        form=form,
        values=values,
        choices=choices,
        rows=rows,
        wrong=wrong,
        by_field=_by_field(form, wrong, rows),
        foretold=foretold,
        worked_out=worked_out,
        focus=_next_to_scan(form, values, rows) if more else "",
        **shown,
    )


def _called(tongue: Tongue, choice: str) -> str:
    """Return what a choice is called, the parts of it in the reader's words."""
    return " · ".join(map(tongue.says, choice.split(" · ")))


def _next_to_scan(
    form: EntryForm, values: Mapping[str, str], rows: Mapping[str, int]
) -> str:
    """Return the first field for a scanner in which nothing stands yet; empty if none."""
    names = (
        one.path.replace("*", str(row))
        for group in form.groups
        for one in group.fields
        if one.sort == "scan"
        for row in range(rows[group.list_path] if group.rows else 1)
    )
    return next((name for name in names if not values.get(name)), "")


def _by_field(
    form: EntryForm, wrong: Wrong, rows: Mapping[str, int]
) -> Mapping[str, str]:
    """Return what is wrong by field; of a group, by the first field in it."""
    names = [
        one.path.replace("*", str(row))
        for group in form.groups
        for row in range(rows.get(group.list_path, 1) if group.rows else 1)
        for one in group.all_fields
    ]
    found = {DAY: wrong.by_field.get("occurred_on", ""), **wrong.by_field}
    for path, sentence in wrong.by_field.items():
        inside = next((name for name in names if name.startswith(f"{path}.")), path)
        found.setdefault(inside, sentence)
    return found


def _rows_of(group: Group, names: Iterable[str]) -> int:
    """Return how many rows of a list are shown: those of some fields, and a few more."""
    start = f"{group.list_path}."
    places = [
        int(place)
        for name in names
        if name.startswith(start)
        and (place := name.removeprefix(start).partition(".")[0]).isdecimal()
    ]
    return max(min(max(places, default=-1) + 1, MOST_ROWS), group.rows)


def _typed(form: EntryForm, asked: Asked) -> Body:
    """Return what was typed as a body; a row with nothing but first values is left out."""
    first = {
        one.path.partition(".*.")[2]: one.first
        for group in form.groups
        if group.rows
        for one in group.all_fields
        if one.first
    }
    given = [
        (name, value)
        for name, value in asked.form.multi_items()
        if isinstance(value, str) and name not in _OURS and value.strip()
    ]
    meant = {_row(name) for name, value in given if first.get(_in_row(name)) != value}
    kept = (pair for pair in given if not _row(pair[0]) or _row(pair[0]) in meant)
    typed = with_units(body_of_fields(kept), figures=figures_of(form.kind))
    return typed if isinstance(typed, dict) else {}


def _row(name: str) -> str:
    """Return the row that a field stands in, such as `lots.0`; empty if in none."""
    steps = name.split(".")
    place = next((n for n, step in enumerate(steps) if step.isdecimal()), None)
    return "" if place is None else ".".join(steps[: place + 1])


def _in_row(name: str) -> str:
    return name.removeprefix(f"{_row(name)}.") if _row(name) else ""


def _values(asked: Asked, body: Body) -> dict[str, str]:
    return {**fields_of_body(body), DAY: asked.text(DAY)}


def _day(form: EntryForm, asked: Asked, body: Body) -> date:
    """Return the day of the entry.

    Raises:
        InputError: None is given, or it is not a day.
    """
    given = asked.text(DAY) if form.day_of is None else form.day_of(body)
    if not given:
        raise InputError("on is empty; fill in the day on which it happened")
    return parse_day(given, named=DAY)


def _of_day(error: LedgerError) -> Wrong:
    found = wrong_with(error)
    return Wrong(found.sentence, {DAY: found.sentence, **found.by_field}, found.status)
