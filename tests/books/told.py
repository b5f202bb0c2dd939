"""What the books tell of how they reached a movement of an account."""

from ledger.books.account import Account
from ledger.books.effect import Cause
from ledger.books.why_balance import why_balance
from ledger.books.working import Working
from tests.world import SCHEME, World


def told(
    world: World, cause: Cause, *, site: str = "mill", form: str = "all"
) -> dict[str, Working]:
    """Return the lines of the last movement of a cause in an account, by what they say.

    No line is told twice.
    """
    account = Account(SCHEME, "cocoa", site, "conventional", "all", form=form)
    moved = [
        movement
        for movement in why_balance(world.shelf, account).movements
        if movement.line.movement.cause is cause
    ]
    lines = {line.text: line for line in moved[-1].workings}
    assert len(lines) == len(moved[-1].workings)
    return lines
