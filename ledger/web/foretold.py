"""What an entry would do, in sentences of the reader's language."""

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.desk.foresight import AccountChange, DueChange, Foresight, LotChange
from ledger.reports.figures import kg_text, money_text
from ledger.reports.phrases import told
from ledger.reports.tongue import Tongue


@dataclass(frozen=True, slots=True)
class Foretold:
    """What an entry would do, as a reader is told.

    Attributes:
        refusal: Why it would be refused; empty where it would not be.
        changes: What it changes, a sentence each.
        warnings: What is unusual about it, a sentence each.
        notes: What else the reader should know, a sentence each.
        is_unfinished: Whether it would be refused for what is not typed yet alone.
    """

    refusal: str = ""
    changes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    is_unfinished: bool = False


def foretold(foresight: Foresight, tongue: Tongue) -> Foretold:
    """Return what an entry would do in sentences."""
    if foresight.refusal is not None:
        # As it is when it is saved: an example of how to type must stay typeable.
        return Foretold(refusal=str(foresight.refusal))
    because = dict.fromkeys(due.because for due in foresight.dues if due.because)
    return Foretold(
        changes=tuple(_changes(foresight, tongue)),
        warnings=tuple(tongue.says(one.message) for one in foresight.warnings),
        notes=tuple(
            tongue.says(one)
            for one in (*because, *(one.message for one in foresight.remarks))
        ),
    )


def _changes(foresight: Foresight, tongue: Tongue) -> Iterator[str]:
    for account in foresight.accounts:
        yield _account(account, tongue)
    for lot in foresight.lots:
        yield _lot(lot, tongue)
    for due in foresight.dues:
        yield _due(due, tongue)
    if foresight.restated:
        yield told(
            tongue.says("Earlier entries that count differently because of it: {1}."),
            str(foresight.restated),
        )
    if not (foresight.accounts or foresight.lots or foresight.dues):
        yield tongue.says("It changes no balance, no lot and no dues.")


def _account(change: AccountChange, tongue: Tongue) -> str:
    by = change.after_g - change.before_g
    phrase = (
        tongue.says("Account {1} goes up by {2} kg, from {3} kg to {4} kg.")
        if by > 0
        else tongue.says("Account {1} goes down by {2} kg, from {3} kg to {4} kg.")
    )
    masses = (kg_text(one) for one in (abs(by), change.before_g, change.after_g))
    return told(phrase, change.account, *map(tongue.figure, masses))


def _lot(change: LotChange, tongue: Tongue) -> str:
    before, after = (
        tongue.figure(kg_text(one)) for one in (change.before_g, change.after_g)
    )
    if change.before_g == 0:
        return told(tongue.says("Lot {1} is on hand with {2} kg."), change.lot, after)
    if change.after_g == 0:
        return told(tongue.says("Lot {1}, {2} kg, is used up."), change.lot, before)
    return told(
        tongue.says("Lot {1} goes from {2} kg to {3} kg."), change.lot, before, after
    )


def _due(change: DueChange, tongue: Tongue) -> str:
    before, after = (
        _owed(minor, change.currency, tongue)
        for minor in (change.before_minor, change.after_minor)
    )
    phrase = (
        tongue.says("Contract {1}, {2} to {3}, for now: {5}; before: {4}.")
        if change.is_provisional
        else tongue.says("Contract {1}, {2} to {3}: {5}; before: {4}.")
    )
    what = tongue.says(change.what)
    return told(phrase, change.contract, what, change.payee, before, after)


def _owed(minor: int | None, currency: str | None, tongue: Tongue) -> str:
    if minor is None or currency is None:
        return tongue.says("no figure yet")
    if minor == 0:
        return tongue.says("nothing owed")
    money = money_words(abs(minor), currency, tongue)
    phrase = tongue.says("{1} paid ahead") if minor < 0 else tongue.says("{1} owed")
    return told(phrase, money)


def money_words(minor: int, currency: str, tongue: Tongue) -> str:
    """Return a sum in the reader's way, with its currency."""
    return f"{tongue.figure(money_text(minor, currency))} {currency}"
