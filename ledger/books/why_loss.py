"""Why writing a lot off took certified content from the accounts, line by line.

Shares seldom have an end, so a line that others rest on begins with its name in square
brackets, and the name stands for its exact figure.
"""

from collections.abc import Iterator
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.certified import CertifiedPart, certified_parts, sources_of
from ledger.books.effect import Cause, Posting, Recorded
from ledger.books.lookup import expect
from ledger.books.paid_weight import kg
from ledger.books.rounding import drawn, shown
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached, share_working
from ledger.books.why_factor import factor_of, factor_workings
from ledger.books.working import DRAWN, Working
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.lot import LotWrittenOff
from ledger.trade.words import Commodity


def losses_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what writing a lot off took from the accounts, in order of account."""
    loss = expect(recorded.record, LotWrittenOff)
    day, grams = recorded.occurred_on, to_grams(loss.mass_kg)
    by_account: dict[Account, list[CertifiedPart]] = {}
    for part in certified_parts(shelf, loss.lot, grams, day, field="lot"):
        by_account.setdefault(part.account, []).append(part)
    for account, parts in sorted(by_account.items()):
        counted = [part for part in parts if part.beans]
        lost_g = drawn(sum((part.beans for part in counted), Fraction(0)))
        if counted:
            yield Reached(
                Posting(account.tally, day, -lost_g, Cause.WRITTEN_OFF),
                (
                    *_workings(shelf, recorded, loss, counted),
                    Working(
                        "certified content written off",
                        f"{show_kg(lost_g)} kg",
                        DRAWN,
                        reckoning=" + ".join(_name(part) for part in counted),
                    ),
                ),
            )


def _workings(
    shelf: Shelf, recorded: Recorded, loss: LotWrittenOff, parts: list[CertifiedPart]
) -> Iterator[Working]:
    mass = kg(to_grams(loss.mass_kg))
    yield Working(f"lot {loss.lot}, mass written off", f"{mass} kg", "", recorded.seq)
    told: set[object] = set()
    for part in parts:
        if part.content.commodity not in told:
            told.add(part.content.commodity)
            yield from _shares(shelf, loss.lot, part.content.commodity)
        what = f"{part.content.commodity} as {part.content.form}"
        key = what, part.content.share
        if key not in told:
            told.add(key)
            if part.content.share != 1:
                yield share_working(shelf, loss.lot, what, part.content.share)
            yield from factor_workings(
                shelf,
                part.terms,
                part.content.commodity,
                part.content.form,
                recorded.occurred_on,
            )
        yield _part_working(shelf, recorded, mass, part)


def _shares(shelf: Shelf, lot: str, commodity: Commodity) -> Iterator[Working]:
    """Yield which part of a lot every source lot of a commodity is, and their sum."""
    alike = [
        (source, share)
        for source, share in sources_of(shelf, lot, field="lot")
        if source.commodity is commodity
    ]
    for source, share in alike:
        yield Working(
            f"[{source.lot}] part of lot {lot} that came from lot {source.lot}",
            shown(share),
            f"well mixed in every batch; trace {lot} --why {source.lot} shows how",
            source.receipt.seq,
            reckoning=f"{share.numerator} / {share.denominator}",
        )
    whole = sum((share for _, share in alike), Fraction(0))
    yield Working(
        f"[{commodity}] part of lot {lot} that came from {commodity}",
        shown(whole),
        reckoning=" + ".join(f"[{source.lot}]" for source, _ in alike),
    )


def _part_working(
    shelf: Shelf, recorded: Recorded, mass: str, part: CertifiedPart
) -> Working:
    content, day = part.content, recorded.occurred_on
    factor = factor_of(shelf, part.terms, content.commodity, content.form, day)
    share = "" if content.share == 1 else f" * {shown(content.share)}"
    known = "" if part.claim.proportion is None else f" * {shown(part.claim.part)}"
    return Working(
        f"{_name(part)} {content.commodity} as {content.form} of it, bought as "
        f"{part.claim.scheme}, {part.claim.custody}",
        f"{shown(part.beans / 1000)} kg",
        reckoning=f"{mass} * [{part.source.lot}] / [{content.commodity}]{share} * "
        f"{factor}{known}",
    )


def _name(part: CertifiedPart) -> str:
    """Return what the line of a part is called, since its digits may be cut."""
    return f"[{part.source.lot} as {part.content.form}]"
