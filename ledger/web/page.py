"""A page: its address, who may open it, and the function that answers."""

from collections.abc import Callable
from dataclasses import dataclass

from starlette.responses import Response

from ledger.web.asked import Asked

Answer = Callable[[Asked], Response]


@dataclass(frozen=True, slots=True)
class Page:
    """One way to ask for a page.

    Attributes:
        method: GET or POST.
        path: Address, with parts in braces as Starlette writes them.
        answer: Gives the answer. It runs in a thread of its own and may wait.
        may: Roles that may open it (`ledger.web.access`); there is no default.
        menu: What the menu calls it; empty where it is not in the menu.
        longest: Most bytes that a form may have.
        is_heavy: Whether it is answered to one address at a time, and to few at once.
    """

    method: str
    path: str
    answer: Answer
    may: frozenset[str]
    menu: str = ""
    longest: int = 256 * 1024
    is_heavy: bool = False
