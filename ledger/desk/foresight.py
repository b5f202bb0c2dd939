"""What an entry would do: the changes that are told before it is made."""

from dataclasses import dataclass

from ledger.books.finding import Finding
from ledger.errors import LedgerError


@dataclass(frozen=True, slots=True)
class AccountChange:
    """What an entry does to one mass-balance account, over all dates.

    Attributes:
        account: The account, as it is called.
        before_g: Bean-equivalent grams that it closes at without the entry.
        after_g: Grams that it closes at with it.
    """

    account: str
    before_g: int
    after_g: int


@dataclass(frozen=True, slots=True)
class LotChange:
    """What an entry does to what is left of one lot.

    Attributes:
        lot: The lot.
        before_g: Grams left without the entry.
        after_g: Grams left with it.
    """

    lot: str
    before_g: int
    after_g: int


@dataclass(frozen=True, slots=True)
class DueChange:
    """What an entry does to what one payee is still owed under one contract.

    Attributes:
        contract: Contract number.
        what: What it is for, such as "premium".
        payee: Who is owed.
        currency: ISO 4217; None where it is not disclosed.
        before_minor: Minor units still owed without the entry; below zero where more was
            paid than is owed so far; None where a line has no figure.
        after_minor: The same with it.
        is_provisional: Whether a part of it may still change, with the entry.
        because: Why it is provisional or has no figure, in one sentence; else empty.
    """

    contract: str
    what: str
    payee: str
    currency: str | None
    before_minor: int | None
    after_minor: int | None
    is_provisional: bool = False
    because: str = ""


@dataclass(frozen=True, slots=True)
class Foresight:
    """What would come of an entry.

    Attributes:
        refusal: Why it would not be let in; None where it would be.
        warnings: What the books find unusual about it.
        accounts: Accounts that it changes.
        dues: What is owed, where it changes that.
        lots: Lots that it changes.
        remarks: What else would be found about the dues, once it is recorded.
        restated: How many earlier entries would count differently.
    """

    refusal: LedgerError | None = None
    warnings: tuple[Finding, ...] = ()
    accounts: tuple[AccountChange, ...] = ()
    dues: tuple[DueChange, ...] = ()
    lots: tuple[LotChange, ...] = ()
    remarks: tuple[Finding, ...] = ()
    restated: int = 0


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What would come of several entries, recorded one after another.

    Attributes:
        foresight: What those that would be let in do together; no refusal.
        refusals: Place of each entry that would be refused, and why. What follows is
            judged as if it had not been tried.
    """

    foresight: Foresight
    refusals: tuple[tuple[int, LedgerError], ...] = ()
