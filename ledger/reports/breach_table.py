"""Tables of breaches: which, why, what they touch, and what would make them good."""

from collections.abc import Iterator
from typing import Final

from ledger.books.breach import Breach, Breaches, BrokenClaim
from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.books.touched import TouchedClaim, TouchedLot
from ledger.books.trace import recorded_of
from ledger.reports.balance_table import UNIT
from ledger.reports.entry_table import entry_name
from ledger.reports.figures import kg_text, mass_text
from ledger.reports.tables import Column, Table
from ledger.trade.sale import SaleDispatched
from ledger.trade.words import Custody

NONE_OPEN: Final = "Nothing is in breach."
_UNITS: Final = (
    f"Of an account, kilograms are {UNIT}; of a physical claim, of goods sold with it."
)
_DOWNGRADE: Final = (
    "To make them good, tell the customer and take the claim back by credit note "
    "(claim.withdrawn), or take the goods back (sale.returned). What is left of these "
    "lots may be sold under a weaker claim that the terms allow and the account covers, "
    "or without a claim."
)
_ENTRY: Final = Column("entry", "Entry", is_figure=True, width=8)
_ON: Final = Column("on", "On", width=12)
_LOT: Final = Column("lot", "Lot", width=16)
_SALE: Final = Column("sale", "Sale", width=12)
_CUSTOMER: Final = Column("customer", "Customer", width=16)


def breaches_table(found: Breaches) -> Table:
    """Return every breach, one a row, open ones first in each of the two sorts."""
    rows = [
        *(_account_row(breach) for breach in found.accounts),
        *(_claim_row(broken) for broken in found.claims),
    ]
    notes = [] if found.is_open else [NONE_OPEN]
    return Table(
        title=f"Breaches as of {found.as_of}",
        columns=(
            Column("state", "State", width=8),
            Column("what", "What", width=34),
            Column("since", "Since", width=12),
            Column("short_kg", "Short", is_figure=True, unit="kg", width=12),
            Column("deepest_kg", "Deepest", is_figure=True, unit="kg", width=12),
            Column("opened_by", "Opened by entry", width=30),
            Column("closed_by", "Closed by entry", width=30),
        ),
        rows=rows,
        notes=[
            _UNITS,
            *notes,
        ],
    )


def _account_row(breach: Breach) -> tuple[str, ...]:
    shortfall = breach.shortfall
    return (
        "open" if breach.is_open else "closed",
        f"account {breach.account}",
        "" if shortfall is None else shortfall.first.day.isoformat(),
        kg_text(breach.needed_g),
        "" if shortfall is None else kg_text(-shortfall.lowest_g),
        ", ".join(map(_entry, breach.opened_by)),
        "" if breach.closed_by is None else _entry(breach.closed_by),
    )


def _claim_row(broken: BrokenClaim) -> tuple[str, ...]:
    touched = broken.touched
    because = {one.because.seq: one.because for one in broken.stopped}
    return (
        "open" if broken.is_open else "closed",
        f"{touched.claim.custody} claim of sale {touched.sale.sale}, lot {touched.lot}",
        touched.recorded.occurred_on.isoformat(),
        kg_text(touched.still_g),
        kg_text(touched.sold_g),
        ", ".join(_entry(because[seq]) for seq in sorted(because)),
        "" if broken.is_open else ", ".join(map(str, touched.given_back_by)),
    )


def _entry(recorded: Recorded) -> str:
    return f"{recorded.seq} {entry_name(recorded)}"


def breach_details(found: Breaches) -> Iterator[Table]:
    """Yield the tables of every open breach: why, lots, sales, and the way out."""
    for breach in found.accounts:
        if breach.is_open:
            yield stopped_table(breach)
            if breach.lots:
                yield lots_table(breach)
            if breach.claims:
                yield claims_table(breach)
            yield draws_table(breach)
    broken = [one for one in found.claims if one.is_open]
    if broken:
        yield broken_claims_table(broken)


def stopped_table(breach: Breach) -> Table:
    """Return why an account is short: lots that no longer count, and other entries."""
    told = {one.because.seq for one in breach.stopped}
    return Table(
        title=f"Why {breach.account} is short",
        columns=(
            _ENTRY,
            _ON,
            Column("what", "What", width=30),
            _LOT,
            Column("supplier", "Supplier", width=16),
            Column("why", "Why", width=46),
        ),
        rows=[
            *(
                (
                    str(one.because.seq),
                    one.because.occurred_on.isoformat(),
                    entry_name(one.because),
                    one.lot.lot,
                    one.lot.supplier,
                    one.sentence,
                )
                for one in breach.stopped
            ),
            *(
                (
                    str(one.seq),
                    one.occurred_on.isoformat(),
                    entry_name(one),
                    "",
                    "",
                    str(getattr(one.record, "reason", "")),
                )
                for one in breach.opened_by
                if one.seq not in told
            ),
        ],
        notes=[_since(breach)],
    )


def _since(breach: Breach) -> str:
    shortfall = breach.shortfall
    if shortfall is None:
        return ""
    began = (
        "" if breach.began_with is None else f" with entry {_entry(breach.began_with)}"
    )
    return (
        f"It fell below zero on {shortfall.first.day}{began}, stood lowest on "
        f"{shortfall.lowest_on} at {kg_text(shortfall.lowest_g)} kg, and stands at "
        f"{kg_text(shortfall.standing_g)} kg ({UNIT})."
    )


def lots_table(breach: Breach) -> Table:
    """Return the lots that hold goods which no longer count, in order of making."""
    return Table(
        title=f"Lots that the breach of {breach.account} touches",
        columns=(
            _LOT,
            Column("form", "Form", width=14),
            _ENTRY,
            Column("part_kg", "Goods concerned", is_figure=True, unit="kg", width=14),
            Column("left_kg", "Left of it", is_figure=True, unit="kg", width=12),
            Column("place", "Place", width=14),
            Column("hold", "Hold", width=12),
        ),
        rows=[_lot_row(one) for one in breach.lots],
        notes=["What is left is the whole lot; goods concerned are well mixed in it."],
    )


def _lot_row(one: TouchedLot) -> tuple[str, ...]:
    left = one.left
    return (
        one.lot,
        one.what.form,
        str(recorded_of(one.what).seq),
        mass_text(one.part_g),
        kg_text(left.grams if left else 0),
        (left.place if left else None) or "",
        (left.hold if left else None) or "",
    )


def claims_table(breach: Breach) -> Table:
    """Return the claims made for these lots, and which the goods no longer support."""
    return Table(
        title=f"Claims under {breach.account.scheme} made for these lots",
        columns=_CLAIM_COLUMNS,
        rows=[_claim_cells(one) for one in breach.claims],
    )


def broken_claims_table(broken: list[BrokenClaim]) -> Table:
    """Return open physical claims that the goods sold no longer support."""
    return Table(
        title="Physical claims that the goods no longer support",
        columns=_CLAIM_COLUMNS,
        rows=[_claim_cells(one.touched) for one in broken],
        notes=[
            _DOWNGRADE,
        ],
    )


_CLAIM_COLUMNS: Final = (
    _ENTRY,
    _ON,
    _SALE,
    _CUSTOMER,
    _LOT,
    Column("custody", "Claimed as", width=18),
    Column("sold_kg", "Sold", is_figure=True, unit="kg", width=12),
    Column("still_kg", "Still claimed", is_figure=True, unit="kg", width=12),
    Column("support", "Goods", width=40),
)


def _claim_cells(one: TouchedClaim) -> tuple[str, ...]:
    return (
        str(one.recorded.seq),
        one.recorded.occurred_on.isoformat(),
        one.sale.sale,
        one.sale.customer,
        one.lot,
        one.claim.custody,
        kg_text(one.sold_g),
        kg_text(one.still_g),
        _support(one),
    )


def _support(one: TouchedClaim) -> str:
    if one.claim.custody is Custody.MASS_BALANCE:
        return one.unsupported or "not asked"
    return one.unsupported or "support it"


def draws_table(breach: Breach) -> Table:
    """Return the sales whose claims could be taken back, and in words what is needed."""
    return Table(
        title=f"Sales that drew on {breach.account}, latest first, {UNIT}",
        columns=(
            _ENTRY,
            _ON,
            _SALE,
            _CUSTOMER,
            Column("drawn_kg", "Drawn", is_figure=True, width=12),
            Column("back_kg", "Given back", is_figure=True, width=12),
            Column("still_kg", "Can be taken back", is_figure=True, width=12),
            Column("while_short", "While short", width=10),
        ),
        rows=[
            (
                str(one.recorded.seq),
                one.recorded.occurred_on.isoformat(),
                sale.sale,
                sale.customer,
                kg_text(one.drawn_g),
                kg_text(one.back_g),
                kg_text(one.still_g),
                "yes" if one.is_uncovered else "",
            )
            for one in breach.draws
            for sale in [expect(one.recorded.record, SaleDispatched)]
        ],
        notes=list(way_out(breach)),
    )


def way_out(breach: Breach) -> Iterator[str]:
    """Yield what would make an open breach good, in sentences."""
    account = breach.account
    takeable_g = sum(one.still_g for one in breach.draws)
    left_g = sum(one.left.grams for one in breach.lots if one.left)
    yield (
        f"To make it good, receive {kg_text(breach.needed_g)} {UNIT} of "
        f"{account.commodity} certified under {account.scheme} for this account; or take "
        f"claims back by credit note (claim.withdrawn) for as much: the sales that drew on "
        f"it hold {kg_text(takeable_g)} kg."
    )
    if breach.givers:
        held = ", or ".join(
            f"account {giver}, which holds {kg_text(held_g)} kg"
            for giver, held_g in breach.givers
        )
        yield (
            f"The terms of {account.scheme} also allow moving bean equivalent to it "
            f"(claim.transferred) from {held}."
        )
    if left_g:
        yield (
            f"{kg_text(left_g)} kg of the lots that it touches are unsold. Selling them "
            "without the claim draws nothing, so the breach does not grow; it does not "
            "fill the account by itself."
        )
    yield (
        "Tell the certifier and the customers concerned as the scheme's own rules ask; "
        "they decide what has to be done about goods already sold."
    )


def flat_table(found: Breaches) -> Table:
    """Return everything in one table, for programs: one fact a row, told by its part."""
    return Table(
        title=f"Breaches as of {found.as_of}",
        columns=(
            Column("breach", "Breach"),
            Column("state", "State"),
            Column("part", "Part"),
            _ENTRY,
            _ON,
            _LOT,
            _SALE,
            _CUSTOMER,
            Column("mass_kg", "Mass", is_figure=True, unit="kg"),
            Column("bean_equivalent_kg", "Bean equivalent", is_figure=True, unit="kg"),
            Column("text", "Text"),
        ),
        rows=[
            *(row for breach in found.accounts for row in _flat(breach)),
            *(
                (
                    f"claim of sale {one.touched.sale.sale}",
                    "open" if one.is_open else "closed",
                    *_flat_claim(one.touched),
                )
                for one in found.claims
            ),
        ],
    )


def _flat(breach: Breach) -> Iterator[tuple[str, ...]]:
    head = (str(breach.account), "open" if breach.is_open else "closed")
    shortfall = breach.shortfall
    since = "" if shortfall is None else shortfall.first.day.isoformat()
    sentence = _since(breach) or "a later entry took it out of the past"
    yield *head, "short", "", since, "", "", "", "", kg_text(breach.needed_g), sentence
    for one in breach.opened_by:
        day = one.occurred_on.isoformat()
        yield *head, "opened by", str(one.seq), day, "", "", "", "", "", entry_name(one)
    if breach.closed_by is not None:
        one, day = breach.closed_by, breach.closed_by.occurred_on.isoformat()
        yield *head, "closed by", str(one.seq), day, "", "", "", "", "", entry_name(one)
    for stopped in breach.stopped:
        entry, day = str(stopped.because.seq), stopped.because.occurred_on.isoformat()
        lot = stopped.lot.lot
        yield (
            *head,
            "no longer counts",
            entry,
            day,
            lot,
            "",
            "",
            "",
            "",
            stopped.sentence,
        )
    for one_lot in breach.lots:
        cells = _lot_row(one_lot)
        yield *head, "lot", cells[2], "", cells[0], "", "", cells[4], "", cells[1]
    for touched in breach.claims:
        yield *head, *_flat_claim(touched)
    for drawn in breach.draws:
        sale = expect(drawn.recorded.record, SaleDispatched)
        entry, day = str(drawn.recorded.seq), drawn.recorded.occurred_on.isoformat()
        kg, short = kg_text(drawn.still_g), "while short" if drawn.is_uncovered else ""
        yield *head, "draw", entry, day, "", sale.sale, sale.customer, "", kg, short


def _flat_claim(one: TouchedClaim) -> tuple[str, ...]:
    return (
        "claim",
        str(one.recorded.seq),
        one.recorded.occurred_on.isoformat(),
        one.lot,
        one.sale.sale,
        one.sale.customer,
        kg_text(one.still_g),
        "",
        _support(one),
    )
