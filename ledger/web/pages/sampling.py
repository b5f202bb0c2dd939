"""Drawing sales, and walking one back to its purchases beside the papers of each."""

from datetime import date
from typing import Final
from urllib.parse import quote, urlencode

from starlette.responses import Response

from ledger import wiring
from ledger.books.drawing import MOST_DRAWN, Draw, DrawRule, draw, population
from ledger.books.paper_trail import PaperTrail, Purchase, Stop, paper_trail
from ledger.errors import InputError
from ledger.reports.entry_body import body_lines
from ledger.reports.figures import mass_text, share_words
from ledger.reports.finding_table import drawn_table, purchases_table
from ledger.store.entries import frontier
from ledger.store.people import Window
from ledger.store.proof import trees_at
from ledger.trade.record import body_of
from ledger.web.access import AUDIT, CERTIFIER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.pages.entries import ADDRESSES
from ledger.web.report import Report, show_report

_USUAL_COUNT: Final = 5
_LONGEST_SEED: Final = 100


def show_samples(asked: Asked) -> Response:
    """Show the form, and the sales that are drawn once a seed was given."""
    seed = asked.query("seed")
    rule = _rule(asked)
    wanted = _wanted(asked, rule, seed) if seed else None
    tables, found = [], None
    if wanted is not None:
        with asked.books() as books:
            found = draw(books.shelf, wanted)
            there = sum(1 for _ in population(books.shelf, wanted))
        tables = [drawn_table(found, wanted, there=there)]
    report = Report(
        asked.tongue.says("Samples"),
        tables,
        links={"sale": "/samples/{sale}", "entry": "/entries/{entry}"},
    )
    return show_report(
        asked,
        report,
        template="samples.html",
        rules=[(one.value, asked.tongue.says(one.value)) for one in DrawRule],
        rule=rule,
        seed=seed or wiring.new_secret()[:12],
        count=_count(asked),
        since=asked.query("since"),
        until=asked.query("until"),
        drawn=found,
        again=f"/samples?{urlencode(_again(wanted))}" if wanted else "",
        sample=str(wanted or ""),
        may_note=may_open(asked.person, CERTIFIER),
        most=MOST_DRAWN,
    )


def show_trail(asked: Asked) -> Response:
    """Show one sale with everything it came from, and one purchase beside its papers."""
    with asked.books() as books:
        trail = paper_trail(books.shelf, asked.part("sale"))
    chosen = _chosen(asked, trail)
    name = quote(trail.sale.subject.name, safe="")
    sample = asked.query("sample")
    report = Report(
        asked.tongue.says(f"From sale {trail.sale.subject.name} to purchase"),
        [purchases_table(trail)],
        links={
            "shipment": f"/samples/{name}?shipment={{shipment}}"
            + (f"&sample={quote(sample)}" if sample else ""),
            "contract": "/contracts/{contract}",
        },
    )
    return show_report(
        asked,
        report,
        template="trail.html",
        trail=trail,
        chosen=chosen,
        lines_of=lambda recorded: body_lines(body_of(recorded.record)),
        addresses=ADDRESSES,
        mass=lambda grams: asked.tongue.figure(mass_text(grams)),
        share=share_words,
        about=_about,
        may_note=may_open(asked.person, CERTIFIER),
        sample=sample,
    )


def _chosen(asked: Asked, trail: PaperTrail) -> Purchase | None:
    """Return the purchase that is shown in full: the one asked for, else the largest."""
    name = asked.query("shipment")
    for one in trail.purchases:
        if name in {"", one.shipment.subject.name}:
            return one
    if name:
        raise InputError(
            f"shipment is {name!r}, which is not in sale {trail.sale.subject.name}; "
            "choose one from the table"
        )
    return None


def _about(stop: Stop) -> str:
    return f"{stop.subject.kind}={quote(stop.subject.name, safe='')}"


def _rule(asked: Asked) -> DrawRule:
    given = asked.query("rule") or DrawRule.RANDOM.value
    if given not in set(DrawRule):
        raise InputError(
            f"rule is {given!r}, by which nothing is drawn; use one of "
            f"{', '.join(DrawRule)}"
        )
    return DrawRule(given)


def _wanted(asked: Asked, rule: DrawRule, seed: str) -> Draw:
    if len(seed) > _LONGEST_SEED:
        raise InputError(
            f"seed has {len(seed)} characters; at most {_LONGEST_SEED} do, such as a row "
            "of dice"
        )
    window = asked.person.window if asked.is_limited else Window()
    with asked.office.rows() as rows:
        present = frontier(rows)
        given = asked.query("size")
        if given and not (given.isdecimal() and 0 < int(given) <= present.size):
            raise InputError(
                f"size is {given!r}, but the ledger has {present.size} entries; leave it "
                "out to draw from all of them"
            )
        size = int(given) if given else present.size
        root = trees_at(rows, [size])[size].root()
    return Draw(
        rule=rule,
        seed=seed,
        root=root,
        size=size,
        count=_count(asked),
        since=_later(window.since, asked.day("since")),
        until=_earlier(window.until, asked.day("until")),
        scheme=window.scheme or asked.query("scheme") or None,
    )


def _count(asked: Asked) -> int:
    given = asked.query("count") or str(_USUAL_COUNT)
    if not given.isdecimal() or not 1 <= int(given) <= MOST_DRAWN:
        raise InputError(
            f"count is {given!r}; it must be a whole number from 1 to {MOST_DRAWN}"
        )
    return int(given)


def _later(limit: date | None, given: date | None) -> date | None:
    return max(filter(None, (limit, given)), default=None)


def _earlier(limit: date | None, given: date | None) -> date | None:
    return min(filter(None, (limit, given)), default=None)


def _again(wanted: Draw) -> dict[str, str]:
    """Return what an address must say to draw the same sales again."""
    told = {
        "rule": wanted.rule.value,
        "seed": wanted.seed,
        "count": str(wanted.count),
        "size": str(wanted.size),
        "since": wanted.since and wanted.since.isoformat(),
        "until": wanted.until and wanted.until.isoformat(),
        "scheme": wanted.scheme,
    }
    return {name: text for name, text in told.items() if text}


PAGES: Final = (
    Page("GET", "/samples", show_samples, AUDIT, menu="Samples"),
    Page("GET", "/samples/{sale:path}", show_trail, AUDIT),
)
