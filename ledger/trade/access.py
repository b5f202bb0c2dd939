"""Who may do what with the ledger: said in the record itself, without personal data."""

from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from ledger.trade.record import Day, Name, Record, Text
from ledger.trade.role import Role


class AccessGranted(Record):
    """A person may act in the ledger from here on, in place of what was granted before."""

    kind: ClassVar[str] = "access.granted"

    person: Name
    """What entries call the person; it should not identify anybody outside the house."""
    roles: Annotated[tuple[Role, ...], Field(min_length=1)]
    """What the person may do."""
    scheme: Name | None = None
    """Of a certifier: the one scheme that is shown; left out for all."""
    since: Day | None = None
    """Of a certifier: first trade date that is shown; left out from the beginning."""
    until: Day | None = None
    """Of a certifier: last trade date that is shown; left out up to the present."""

    @model_validator(mode="after")
    def _is_apart(self) -> Self:
        # Who judges the maker's record must not keep it (ISO 19011:2018, 5.5.4 and
        # 4 e), independence of auditors; from memory).
        is_certifier = Role.CERTIFIER in self.roles
        if is_certifier and len(set(self.roles)) > 1:
            msg = (
                "roles hold certifier and others; a certifier judges what the others "
                "record, so let the person in under another name for those"
            )
            raise ValueError(msg)
        if not is_certifier and (self.scheme, self.since, self.until) != (None,) * 3:
            msg = (
                "scheme, since and until limit what a certifier is shown, but the roles "
                f"are {', '.join(self.roles)}; leave them out, or make it a certifier"
            )
            raise ValueError(msg)
        if (
            self.since is not None
            and self.until is not None
            and self.until < self.since
        ):
            msg = (
                f"until {self.until} lies before since {self.since}; swap the two dates"
            )
            raise ValueError(msg)
        return self


class AccessEnded(Record):
    """A person may act in the ledger no more."""

    kind: ClassVar[str] = "access.ended"

    person: Name
    """What entries call the person."""
    reason: Text | None = None
    """Why, if it matters."""
