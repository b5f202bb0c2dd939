"""A disclosure profile: who reads a pack, and which sealed values are shown to them.

Contacts have no place in it: no reader of a pack needs them, so none ever gets them.
"""

from typing import Literal, Self

from pydantic import model_validator

from ledger.trade.record import Day, Name, Record, Text
from ledger.trade.words import PartyRole


class NamesShown(Record):
    """Of which parties the legal names are shown."""

    role: PartyRole
    """What the parties are to the maker."""
    show: Literal["all", "sampled sales"]
    """All of them, or only the customers of the sampled sales."""

    @model_validator(mode="after")
    def _only_customers_buy(self) -> Self:
        if self.show == "sampled sales" and self.role is not PartyRole.CUSTOMER:
            msg = (
                f'show is "sampled sales" for the role {self.role}, but only customers '
                "buy in sales; write all, or leave the role out"
            )
            raise ValueError(msg)
        return self


class Profile(Record):
    """Which sealed values a reader of packs sees; what is not named stays sealed."""

    profile: Name
    """Name of the profile."""
    dated: Day
    """Day on which it was agreed or last changed."""
    reader: Text
    """Who reads packs that are made under it, such as the certifier of a scheme."""
    schemes: tuple[Name, ...] = ()
    """Schemes whose prices and sale values the reader sees, if not all."""
    prices: Literal["all", "under the schemes", "none"]
    """Contract prices, their fixations and what was paid towards them, on which dues
    rest; what was paid of premiums and differentials, which terms publish, is shown."""
    names: tuple[NamesShown, ...] = ()
    """Legal names of parties, by what they are to the maker."""
    addresses: tuple[PartyRole, ...] = ()
    """Postal addresses of parties, by what they are to the maker."""
    sale_values: Literal["all", "under the schemes", "sampled sales", "none"] = "none"
    """What sales were invoiced at."""
    papers: Literal["all", "none"] = "none"
    """Attached papers, which show whatever stands on them, prices and names as well."""
    note: Text | None = None
    """Why, and who agreed to it."""

    @model_validator(mode="after")
    def _schemes_are_named(self) -> Self:
        under = "under the schemes"
        if (under in {self.prices, self.sale_values}) != bool(self.schemes):
            msg = (
                f'schemes goes together with "{under}": name the schemes where prices or '
                "sale_values say so, and leave them out elsewhere"
            )
            raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _a_role_stands_once(self) -> Self:
        roles = [names.role for names in self.names]
        if len(set(roles)) < len(roles):
            msg = "names tells of one role twice; keep one of the two"
            raise ValueError(msg)
        return self

    def __str__(self) -> str:
        return f"{self.profile} of {self.dated}"


USUAL = Profile.model_validate(
    {
        "profile": "usual",
        "dated": "2026-01-01",
        "reader": "any certifier",
        "prices": "all",
        "names": [
            {
                "role": role,
                "show": "sampled sales" if role is PartyRole.CUSTOMER else "all",
            }
            for role in PartyRole
        ],
        "papers": "all",
    }
)
"""What a pack shows where no profile is given: prices, because dues rest on them, and
the names of all parties, but of customers only those of the sampled sales; and papers."""
