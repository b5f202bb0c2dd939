"""Why so much came in and was sold, certified or not, and what percentage that makes."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from operator import itemgetter

from ledger.books.account import Account
from ledger.books.claimed import lines_out, take_back
from ledger.books.effect import Book, Cause, Recorded, Subject, SubjectKind, Tally
from ledger.books.lookup import expect, require, site_named
from ledger.books.paid_weight import kg
from ledger.books.receiving import credited_weight_g, inputs_of
from ledger.books.rolling import Average, sides_of, throughput
from ledger.books.rounding import credited, drawn, shown
from ledger.books.selling import OutputPart, output_parts
from ledger.books.shelf import Shelf
from ledger.books.source import source_lots
from ledger.books.why_claim import Reached, share_working
from ledger.books.why_factor import factor_of, factor_workings
from ledger.books.why_receipt import weight_workings
from ledger.books.working import CREDITED, DRAWN, Working
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.sale import SaleDispatched, SaleLine, SaleReturned
from ledger.trade.shipment import ShipmentReceived


def inputs_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a receipt added to all that came in."""
    record = expect(recorded.record, ShipmentReceived)
    site = site_named(shelf, record.site, field="site")
    day = recorded.occurred_on
    for lot in source_lots(shelf, recorded):
        if lot.part.decision != "accepted":
            continue
        for terms, posting in inputs_of(shelf, lot, site):
            factor = factor_of(shelf, terms, lot.commodity, lot.form, day)
            weight = kg(credited_weight_g(terms.account, lot))
            yield Reached(
                posting,
                (
                    *weight_workings(shelf, lot, terms),
                    *factor_workings(shelf, terms, lot.commodity, lot.form, day),
                    Working(
                        f"came in with lot {lot.lot}",
                        f"{show_kg(posting.grams)} kg",
                        CREDITED,
                        reckoning=f"{weight} * {factor}",
                    ),
                ),
            )


def outputs_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a sale added to all that was sold."""
    sale = expect(recorded.record, SaleDispatched)
    for line in sale.lines:
        for account, parts in _by_account(shelf, recorded, line):
            grams = drawn(_beans(parts))
            yield Reached(
                throughput(
                    Book.OUTPUT, account, recorded.occurred_on, grams, Cause.SOLD
                ),
                (
                    *_part_workings(shelf, recorded, line, parts),
                    Working(
                        f"sold with lot {line.lot}",
                        f"{show_kg(grams)} kg",
                        DRAWN,
                        reckoning=" + ".join(kg(part.beans) for part in parts),
                    ),
                ),
            )


def outputs_back_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a return took off all that was sold."""
    returned = expect(recorded.record, SaleReturned)
    sold = require(shelf, Subject(SubjectKind.SALE, returned.sale), field="sale")
    sale = expect(sold.record, SaleDispatched)
    for back in take_back(lines_out(shelf, sale, before=recorded.slot), returned):
        line, day = back.line, recorded.occurred_on
        whole_g = to_grams(line.mass_kg)
        for account, parts in _by_account(shelf, sold, line):
            exact = _beans(parts)
            grams = credited(exact * back.goods_g / whole_g)
            yield Reached(
                throughput(Book.OUTPUT, account, day, -grams, Cause.RETURNED),
                (
                    *_part_workings(shelf, sold, line, parts),
                    Working(
                        f"lot {line.lot}, came back",
                        f"{kg(back.goods_g)} kg",
                        "",
                        recorded.seq,
                    ),
                    Working(
                        f"taken off for lot {line.lot}",
                        f"{show_kg(grams)} kg",
                        CREDITED,
                        reckoning=f"({' + '.join(kg(part.beans) for part in parts)}) * "
                        f"{kg(back.goods_g)} / {kg(whole_g)}",
                    ),
                ),
            )


def why_average(shelf: Shelf, average: Average) -> tuple[Working, ...]:
    """Return how the percentages of a window were reached, line by line."""
    sides = sides_of(shelf, average)
    certified = [movement.grams for movement in sides[Book.INPUT]]
    claimed = [-movement.grams for movement in sides[Book.OUTPUT]]
    span = f"from {average.since} to {average.on}"
    return (
        _throughput(shelf, average, Book.INPUT, f"came in {span}"),
        _sum("of it certified", certified),
        _part(
            "part that may be claimed",
            average.allowed,
            (average.certified_g, average.input_g),
            "what came in certified, of all that came in over the same window",
        ),
        _throughput(shelf, average, Book.OUTPUT, f"sold {span}"),
        _sum("of it claimed", claimed),
        _part(
            "part that was claimed",
            average.claimed_part,
            (average.claimed_g, average.output_g),
        ),
    )


def _throughput(shelf: Shelf, average: Average, book: Book, text: str) -> Working:
    run = shelf.run(Tally(book, average.account.key), average.since, average.on)
    moved = f"{kg(run.closing_g)} - {kg(run.opening_g)}"
    return Working(text, f"{kg(run.closing_g - run.opening_g)} kg", reckoning=moved)


def _sum(text: str, parts: list[int]) -> Working:
    figures = (kg(g) if g >= 0 else f"(0 - {kg(-g)})" for g in parts)
    return Working(text, f"{kg(sum(parts))} kg", reckoning=" + ".join(figures) or "0")


def _part(text: str, figure: Fraction, of: tuple[int, int], rule: str = "") -> Working:
    part_g, whole_g = of
    reckoning = f"{kg(part_g)} / {kg(whole_g)}" if whole_g > 0 else "0"
    if whole_g > 0 and figure != Fraction(part_g, whole_g):
        reckoning = "0" if part_g < 0 else f"lowest of (1, {reckoning})"
    return Working(text, shown(figure), rule, reckoning=reckoning)


def _by_account(
    shelf: Shelf, sold: Recorded, line: SaleLine
) -> list[tuple[Account, list[OutputPart]]]:
    sale = expect(sold.record, SaleDispatched)
    site = site_named(shelf, sale.site, field="site")
    found = output_parts(shelf, line, sold.occurred_on, site, field="lines")
    return [
        item for parts in found for item in sorted(parts.items(), key=itemgetter(0))
    ]


def _beans(parts: Iterable[OutputPart]) -> Fraction:
    return sum((part.beans for part in parts), Fraction(0))


def _part_workings(
    shelf: Shelf, sold: Recorded, line: SaleLine, parts: Iterable[OutputPart]
) -> Iterator[Working]:
    mass, day = kg(to_grams(line.mass_kg)), sold.occurred_on
    yield Working(f"lot {line.lot}, mass sold", f"{mass} kg", "", sold.seq)
    for part in parts:
        content, terms = part.content, part.terms
        what = f"{content.commodity} as {content.form}"
        share = ""
        if content.share != 1:
            yield share_working(shelf, line.lot, what, content.share)
            share = f" * {shown(content.share)}"
        yield from factor_workings(shelf, terms, content.commodity, content.form, day)
        factor = factor_of(shelf, terms, content.commodity, content.form, day)
        yield Working(
            f"{what}, claimed or not",
            f"{kg(part.beans)} kg",
            reckoning=f"{mass}{share} * {factor}",
        )
