"""Mass-balance accounts: what they are kept by, in bean-equivalent grams."""

from dataclasses import dataclass

from ledger.books.effect import Book, Tally

ALL = "all"


@dataclass(frozen=True, slots=True, order=True)
class Account:
    """One mass-balance account.

    Attributes:
        scheme: Scheme under which it is kept.
        commodity: Commodity it counts.
        site: Site it is kept for.
        production: "organic", "conventional", or "all" where the terms do not match it.
        origin: Country of origin, or "all" where the terms do not match origin.
    """

    scheme: str
    commodity: str
    site: str
    production: str
    origin: str

    @property
    def tally(self) -> Tally:
        """Return the running total of the account."""
        parts = (self.scheme, self.commodity, self.site, self.production, self.origin)
        return Tally(Book.ACCOUNT, "|".join(parts))

    @classmethod
    def of(cls, tally: Tally) -> "Account":
        """Return the account that a running total belongs to."""
        scheme, commodity, site, production, origin = tally.key.split("|")
        return cls(scheme, commodity, site, production, origin)

    def __str__(self) -> str:
        return ", ".join(
            part
            for part in (
                self.scheme,
                self.commodity,
                self.site,
                None if self.production == ALL else self.production,
                None if self.origin == ALL else f"origin {self.origin}",
            )
            if part is not None
        )
