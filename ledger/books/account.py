"""Mass-balance accounts: what they are kept by, in bean-equivalent grams."""

from dataclasses import dataclass, replace

from ledger.books.effect import Book, Tally

ALL = "all"


@dataclass(frozen=True, slots=True, order=True)
class Account:
    """One mass-balance account.

    Attributes:
        scheme: Scheme under which it is kept.
        commodity: Commodity it counts.
        site: Site it is kept for, or "all" where the terms keep it for the group.
        production: "organic", "conventional", or "all" where the terms do not match it.
        origin: Country of origin, or "all" where the terms do not match origin.
        grade: Grade, or "all" where the terms do not match grade.
        form: Form that came out beside another and may be claimed as itself only, or
            "all" for what may be claimed as any form.
    """

    scheme: str
    commodity: str
    site: str
    production: str
    origin: str
    grade: str = ALL
    form: str = ALL

    @property
    def key(self) -> str:
        """What names the account in the books: its parts, but for an "all" at the end."""
        parts = [self.scheme, self.commodity, self.site, self.production, self.origin]
        if (self.grade, self.form) != (ALL, ALL):
            parts.append(self.grade)
        if self.form != ALL:
            parts.append(self.form)
        return "|".join(parts)

    @property
    def tally(self) -> Tally:
        """Return the running total of the account."""
        return Tally(Book.ACCOUNT, self.key)

    @property
    def of_all_forms(self) -> "Account":
        """The account of what may be claimed as any form, with the same key else."""
        return replace(self, form=ALL)

    @classmethod
    def of(cls, tally: Tally) -> "Account":
        """Return the account that a running total belongs to."""
        return cls(*tally.key.split("|"))

    def __str__(self) -> str:
        told = (
            self.scheme,
            self.commodity,
            "all sites" if self.site == ALL else self.site,
            None if self.production == ALL else self.production,
            None if self.origin == ALL else f"origin {self.origin}",
            None if self.grade == ALL else f"grade {self.grade}",
            None if self.form == ALL else f"as {self.form}",
        )
        return ", ".join(part for part in told if part is not None)
