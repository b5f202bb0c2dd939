"""People of the demonstration: one for each role, let in by one-time links."""

from typing import Final

from ledger.desk.people import Invitation, NewSecret, admit, invite
from ledger.desk.writing import Writing
from ledger.store.people import Window, find_person
from ledger.trade.role import Role

PEOPLE: Final = (
    ("compliance-1", "Compliance officer", Role.COMPLIANCE, Window()),
    ("buyer-1", "Buyer", Role.BUYER, Window()),
    ("floor-1", "Maker on the floor", Role.FLOOR, Window()),
    ("certifier-1", "Certifier of osierfold", Role.CERTIFIER, Window("osierfold")),
    ("admin-1", "Administrator", Role.ADMINISTRATOR, Window()),
)
"""Name in entries, name on the pages, role, and what a certifier may see."""


def invite_everybody(
    writing: Writing, *, new_secret: NewSecret
) -> tuple[Invitation, ...]:
    """Let everybody of the demonstration in, and return their links."""
    return tuple(
        invite(writing, name, new_secret=new_secret)
        if find_person(writing.rows, name)
        else admit(
            writing,
            name,
            shown=shown,
            roles={role},
            window=window,
            new_secret=new_secret,
        )
        for name, shown, role, window in PEOPLE
    )
