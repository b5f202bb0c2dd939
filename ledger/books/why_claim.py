"""Why a claim drew on an account as it did, and what came back of it, line by line."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.claimed import Back, claims_back, lines_out, take_back, withdraw
from ledger.books.effect import Cause, Posting, Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, require, site_named
from ledger.books.paid_weight import kg
from ledger.books.rounding import drawn, shown
from ledger.books.selling import DrawnPart, drawn_parts
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, lot_named
from ledger.books.why_factor import factor_of, factor_workings
from ledger.books.working import CREDITED, DRAWN, Working
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.sale import ClaimWithdrawn, SaleDispatched, SaleLine, SaleReturned


@dataclass(frozen=True, slots=True)
class Reached:
    """A posting, and how its mass was reached.

    Attributes:
        posting: What moved.
        workings: How its mass was reached, without its sign; the last line is the mass.
    """

    posting: Posting
    workings: tuple[Working, ...]


def draws_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what the claims of a sale drew, in the order of its postings."""
    sale = expect(recorded.record, SaleDispatched)
    for line in sale.lines:
        by_account = _by_account(shelf, recorded, line)
        for account, parts in sorted(by_account, key=lambda found: found[0]):
            exact = sum((part.beans for part in parts), Fraction(0))
            grams = drawn(exact)
            yield Reached(
                Posting(account.tally, recorded.occurred_on, -grams, Cause.SOLD),
                (
                    *_part_workings(shelf, recorded, line, parts),
                    Working(
                        f"drawn for lot {line.lot}",
                        f"{show_kg(grams)} kg",
                        DRAWN,
                        reckoning=" + ".join(kg(part.beans) for part in parts),
                    ),
                ),
            )


def returns_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a return gave back to the accounts."""
    returned = expect(recorded.record, SaleReturned)
    sold, sale = _sale_of(shelf, returned.sale)
    out = lines_out(shelf, sale, before=recorded.slot)
    yield from _back(shelf, recorded, sold, take_back(out, returned))


def withdrawals_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what taking claims back gave back to the accounts."""
    withdrawn = expect(recorded.record, ClaimWithdrawn)
    sold, sale = _sale_of(shelf, withdrawn.sale)
    out = lines_out(shelf, sale, before=recorded.slot)
    yield from _back(shelf, recorded, sold, withdraw(out, withdrawn))


def _sale_of(shelf: Shelf, sale: str) -> tuple[Recorded, SaleDispatched]:
    sold = require(shelf, Subject(SubjectKind.SALE, sale), field="sale")
    return sold, expect(sold.record, SaleDispatched)


def _by_account(
    shelf: Shelf, sold: Recorded, line: SaleLine
) -> list[tuple[Account, list[DrawnPart]]]:
    """Return what each claim of a line draws on each account."""
    sale = expect(sold.record, SaleDispatched)
    site = site_named(shelf, sale.site, field="site")
    found: list[tuple[Account, list[DrawnPart]]] = []
    for parts in drawn_parts(shelf, line, sold.occurred_on, site, field="lines"):
        by_account: dict[Account, list[DrawnPart]] = {}
        for part in parts:
            by_account.setdefault(part.account, []).append(part)
        found += by_account.items()
    return found


def _part_workings(
    shelf: Shelf, sold: Recorded, line: SaleLine, parts: Iterable[DrawnPart]
) -> Iterator[Working]:
    """Yield how the bean equivalent of each ingredient of a line was reached, exact."""
    mass = kg(to_grams(line.mass_kg))
    yield Working(f"lot {line.lot}, mass sold", f"{mass} kg", "", sold.seq)
    for part in parts:
        content = part.content
        what = f"{content.commodity} as {content.form}"
        if content.share != 1:
            yield share_working(shelf, line.lot, what, content.share)
        day = sold.occurred_on
        terms, claim = part.terms, part.claim
        yield from factor_workings(shelf, terms, content.commodity, content.form, day)
        factor = factor_of(shelf, terms, content.commodity, content.form, day)
        known = ""
        if claim.proportion is not None:
            known = f" * {shown(claim.part)}"
            text = "known part of the blend that is claimed"
            yield Working(text, shown(claim.part), "", sold.seq)
        share = "" if content.share == 1 else f" * {shown(content.share)}"
        yield Working(
            f"{what}, claimed as {claim.scheme}, {claim.custody}",
            f"{kg(part.beans)} kg",
            reckoning=f"{mass}{share} * {factor}{known}",
        )


def share_working(shelf: Shelf, lot: str, what: str, share: Fraction) -> Working:
    """Return the line that says which part of a lot an ingredient is, by its recipe."""
    found = lot_named(shelf, lot, field="lot")
    recipe = found.output.recipe if isinstance(found, MadeLot) else None
    entry = None
    if recipe is not None:
        published = shelf.introducer(Subject(SubjectKind.RECIPE, recipe))
        entry = None if published is None else published.seq
    return Working(f"part that is {what}", shown(share), f"recipe {recipe}", entry)


def _back(
    shelf: Shelf, recorded: Recorded, sold: Recorded, backs: Iterable[Back]
) -> Iterator[Reached]:
    for back in backs:
        parts = {
            account.tally: parts
            for account, parts in _by_account(shelf, sold, back.line)
        }
        for posting in claims_back(shelf, sold, back, recorded.occurred_on):
            drew = parts[posting.tally]
            yield Reached(
                posting,
                (
                    *_part_workings(shelf, sold, back.line, drew),
                    *_back_workings(recorded, back, posting, drew),
                ),
            )


def _back_workings(
    recorded: Recorded, back: Back, posting: Posting, parts: list[DrawnPart]
) -> Iterator[Working]:
    line, scheme = back.line, Account.of(posting.tally).scheme
    exact = kg(sum((part.beans for part in parts), Fraction(0)))
    if len(parts) > 1:
        yield Working(
            "together", f"{exact} kg", reckoning=" + ".join(kg(p.beans) for p in parts)
        )
    grams = back.claims_g[scheme]
    if not back.goods_g:
        text = f"lot {line.lot}, no longer claimed as {scheme}"
    elif back.goods_g == grams:
        text = f"lot {line.lot}, came back, claimed as {scheme} until now"
    else:
        text = (
            f"lot {line.lot}, came back, still claimed as {scheme}; what no longer was "
            "comes back first"
        )
    yield Working(text, f"{kg(grams)} kg", "", recorded.seq)
    yield Working(
        "given back",
        f"{show_kg(posting.grams)} kg",
        CREDITED,
        reckoning=f"{exact} * {kg(grams)} / {kg(to_grams(line.mass_kg))}",
    )
