"""Correcting an entry: void, or another in its place; told what changes before it does."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256
from typing import Any, Final, cast

import yaml
from starlette.responses import Response

from ledger.books.correcting import UNCORRECTABLE
from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.chain.entry import Entry
from ledger.desk.approving import ANYBODY, as_if_approved, propose
from ledger.desk.entries import read_entry
from ledger.desk.foresee import Transaction, foresee
from ledger.desk.two_persons import needs_two
from ledger.errors import InputError, LedgerError, NotFoundError, RefusedError
from ledger.intake.yaml_file import read_group
from ledger.reports.entry_table import name_in
from ledger.web.access import COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.body_form import figures_of, form_of
from ledger.web.entry_form import NOTHING_WRONG, Wrong, record_typed, wrong_with
from ledger.web.foretold import Foretold, foretold
from ledger.web.page import Page
from ledger.web.pages.entries import number_in, reader_of
from ledger.web.typed_body import body_of_fields, fields_that_differ, with_units

_MODES: Final = ("replace", "yaml", "void")
_WITHIN: Final = "replacement.body."


@dataclass(frozen=True, slots=True)
class Wrongly:
    """The entry that is to be corrected, with what counts of it.

    Attributes:
        entry: The entry, or the correction whose replacement counts.
        kind: Kind of what counts.
        happened: When that happened in the trade.
        body: Its body, opened.
        two: Whether a second person must approve.
    """

    entry: Entry
    kind: str
    happened: date
    body: Mapping[str, JsonValue]
    two: bool


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed beside the replacement.

    Attributes:
        reason: What is wrong.
        on: Trade date of the correction.
        happened: Trade date of the replacement.
        accept_breach: Whether it may leave an account short.
        text: The replacement as YAML, where it is typed so.
    """

    reason: str
    on: str
    happened: str
    accept_breach: bool
    text: str


def show_form(asked: Asked) -> Response:
    """Show the form, filled in with what counts now."""
    wrongly = corrected_by(asked, _number(asked))
    typed = Typed(
        reason="",
        on=asked.office.today().isoformat(),
        happened=wrongly.happened.isoformat(),
        accept_breach=False,
        text=_as_yaml(wrongly.body),
    )
    return _page(asked, wrongly, typed, wrongly.body)


def correct(asked: Asked) -> Response:
    """Say what a correction would change; record or propose it once that was seen."""
    wrongly = corrected_by(asked, _number(asked))
    typed = Typed(
        reason=asked.text("reason"),
        on=asked.text("on"),
        happened=asked.text("replacement.occurred_on"),
        accept_breach=bool(asked.text("accept_breach")),
        text=asked.secret("text"),
    )
    replacing: Mapping[str, JsonValue] = wrongly.body
    try:
        replacing = _replacing(asked, wrongly)
        on = asked.day("on") or asked.office.today()
        body = _correction(asked, wrongly, typed, replacing)
        told = foretold_correction(asked, on, body, two=wrongly.two)
    except LedgerError as error:
        return _page(asked, wrongly, typed, replacing, wrong=wrong_with(error))
    if told.refusal or asked.text("do") != "record":
        return _page(asked, wrongly, typed, replacing, told=told, seen=_seen(on, body))
    if asked.text("seen") != _seen(on, body):
        sentence = asked.tongue.says(
            "something was changed since you saw what the correction does; look again"
        )
        wrong = Wrong(sentence, status=409)
        return _page(
            asked,
            wrongly,
            typed,
            replacing,
            wrong=wrong,
            told=told,
            seen=_seen(on, body),
        )
    if wrongly.two:
        with asked.writing() as writing:
            made = propose(writing, "correction", on, body)
        says = asked.tongue.says("The correction waits for another compliance officer.")
        return asked.away(f"/approve/{made.number}", said=says)
    done = record_typed(asked, "correction", on, body)
    if isinstance(done, Wrong):
        return _page(asked, wrongly, typed, replacing, wrong=done)
    return asked.away(
        f"/entries/{done.recorded.seq}",
        said=asked.tongue.says(f"Entry {wrongly.entry.seq} is corrected."),
    )


def _number(asked: Asked) -> int:
    """Return the number of the entry in the address.

    Raises:
        InputError: It is not a number.
        NotFoundError: There is none.
    """
    seq = number_in(asked.part("seq"), named="the entry of the address")
    if seq is None:
        raise NotFoundError("the address names no entry; choose one from the list")
    return seq


def corrected_by(asked: Asked, seq: int) -> Wrongly:
    """Return an entry that somebody wants to correct, with what counts of it.

    Raises:
        NotFoundError: There is none of that number.
        RefusedError: It cannot be corrected.
    """
    with asked.books() as books:
        one = read_entry(books.rows, books.shelf, seq, reader_of(asked))
        two = needs_two(books.rows)
    entry = one.entry
    replacement = one.body.get("replacement")
    if isinstance(replacement, dict) and isinstance(replacement["body"], dict):
        kind, body = str(replacement["entry_kind"]), replacement["body"]
        happened = date.fromisoformat(str(replacement["occurred_on"]))
    else:
        kind, body, happened = entry.kind, dict(one.body), entry.occurred_on
    if kind in UNCORRECTABLE:
        raise RefusedError(
            f"entry {seq} is {kind}, which stays as it is; correct the entry whose "
            "figures are wrong, and the difference lands in the open period"
        )
    if one.standing.by != seq:
        raise RefusedError(
            f"entry {seq} does not count any more, because it was corrected before; "
            "correct what stands in its place, or record what is missing as a new entry"
        )
    return Wrongly(entry, kind, happened, body, two)


def _replacing(asked: Asked, wrongly: Wrongly) -> Mapping[str, JsonValue]:
    """Return the body that is typed; that of the entry where it is to be void.

    Raises:
        InputError: The text is not YAML of one group of fields.
    """
    mode = _mode(asked)
    if mode == "void":
        return wrongly.body
    if mode == "yaml":
        return read_group("the text", asked.secret("text"))
    fields = [
        (name, value)
        for name, value in asked.form.multi_items()
        if isinstance(value, str)
    ]
    body = with_units(
        body_of_fields(fields, within=_WITHIN), figures=figures_of(wrongly.kind)
    )
    return cast("dict[str, JsonValue]", body)


def _correction(
    asked: Asked, wrongly: Wrongly, typed: Typed, replacing: Mapping[str, JsonValue]
) -> dict[str, JsonValue]:
    body: dict[str, JsonValue] = {"target": wrongly.entry.seq, "reason": typed.reason}
    if _mode(asked) != "void":
        body["replacement"] = {
            "entry_kind": wrongly.kind,
            "occurred_on": typed.happened,
            "body": dict(replacing),
        }
    if typed.accept_breach:
        body["accept_breach"] = True
    return body


def foretold_correction(
    asked: Asked, on: date, body: Mapping[str, JsonValue], *, two: bool
) -> Foretold:
    """Return what a correction would do, in sentences.

    Args:
        asked: The request.
        on: Trade date of the correction.
        body: Its body.
        two: Whether a second person must approve.

    Raises:
        InputError: It does not follow its model, so its fields are to be marked.
    """
    transaction: Transaction = asked.writing
    given = dict(body)
    if two:
        transaction = as_if_approved(transaction)
        given["approved_by"] = ANYBODY
    found = foresee(transaction, "correction", on, given)
    if isinstance(found.refusal, InputError):
        raise found.refusal
    # The entry that is corrected is not one more that counts differently.
    others = replace(found, restated=max(0, found.restated - 1))
    return foretold(others, asked.tongue)


def _page(
    asked: Asked,
    wrongly: Wrongly,
    typed: Typed,
    replacing: Mapping[str, JsonValue],
    *,
    wrong: Wrong = NOTHING_WRONG,
    told: Foretold | None = None,
    seen: str = "",
) -> Response:
    mode = _mode(asked)
    return asked.page(
        "correct.html",
        status=wrong.status,
        entry=wrongly.entry,
        name=name_in(wrongly.kind, wrongly.body),
        two=wrongly.two,
        mode=mode,
        typed=typed,
        wrong=_within_body(wrong),
        parts=form_of(wrongly.kind, replacing, within=_WITHIN),
        foretold=told,
        worked_out=[],
        seen=seen,
        changes=list(_changes(wrongly, typed, replacing)) if mode != "void" else [],
    )


def _within_body(wrong: Wrong) -> Wrong:
    """Return what is wrong with the replacement under the names that its fields have.

    What is wrong with a replacement names its fields as if it were recorded by itself.
    """
    inner = {
        f"{_WITHIN}{path}": sentence
        for path, sentence in wrong.by_field.items()
        if not path.startswith("replacement.")
    }
    return Wrong(wrong.sentence, {**inner, **wrong.by_field}, wrong.status)


def _changes(
    wrongly: Wrongly, typed: Typed, replacing: Mapping[str, JsonValue]
) -> Iterator[tuple[str, str, str]]:
    """Yield the fields that differ: name, what it is, what it becomes."""
    if typed.happened and typed.happened != wrongly.happened.isoformat():
        yield "occurred_on", wrongly.happened.isoformat(), typed.happened
    yield from fields_that_differ(wrongly.body, replacing)


def _mode(asked: Asked) -> str:
    given = asked.query("mode")
    return given if given in _MODES else "replace"


def _seen(on: date, body: dict[str, JsonValue]) -> str:
    return sha256(canonical_bytes({"on": on.isoformat(), "body": body})).hexdigest()


def _as_yaml(body: Mapping[str, Any]) -> str:
    return yaml.safe_dump(dict(body), sort_keys=False, allow_unicode=True, width=88)


PAGES: Final = (
    Page("GET", "/correct/{seq}", show_form, COMPLIANCE),
    Page("POST", "/correct/{seq}", correct, COMPLIANCE),
)
