"""The short form of docs/explanation/trust.md: what somebody may try, and what finds it.

Every pack carries it: in its text, on the first page of its report, and on its page for
a browser.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Cheat:
    """One thing that somebody may try.

    Attributes:
        tried: What it is.
        found: What finds it, and where nothing does.
    """

    tried: str
    found: str


CHEATS: Final = (
    Cheat(
        "An entry is edited, deleted, put in or moved",
        "The check. If every digest was worked out anew: the checkpoint that you kept.",
    ),
    Cheat(
        "The end is cut off (truncated)",
        "The checkpoint that you kept. Nothing finds entries that nobody saw signed.",
    ),
    Cheat(
        "Everything is written anew, or two people are shown two histories (a fork)",
        "The checkpoint that you kept, or a witness who saw both. Nothing, if it was "
        "before the first checkpoint left the house, or if nobody compares.",
    ),
    Cheat(
        "An entry is backdated",
        "A clock that goes back between two entries. A witness or a timestamp shows only "
        "that an entry is no younger; the day of the trade is the maker's word.",
    ),
    Cheat(
        "The key is stolen",
        "A second history contradicts what you kept. Which is whose, only the maker can "
        "say, in person.",
    ),
    Cheat(
        "A purchase or sale is not recorded",
        "Nothing in a pack. Papers and receipts of the other side, a count of the stock.",
    ),
    Cheat(
        "Goods are weighed wrong, or a false weight is written",
        "Nothing in a pack. The weight note of the other side, a second scale.",
    ),
    Cheat(
        "The maker and a witness, or a seller, work together (collusion)",
        "A second witness, the checkpoint that you kept yourself. Against a seller who "
        "helps nothing in a pack: the seller's own certifier, visits.",
    ),
)
"""The cheats of docs/explanation/trust.md, in few words."""
