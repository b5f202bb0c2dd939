"""Moving a claim from one mass-balance account to another; goods stay where they are."""

from typing import Annotated, ClassVar

from pydantic import Field

from ledger.trade.codes import Country
from ledger.trade.quantity import PositiveKilograms
from ledger.trade.record import Measured, Name, Record, Text, YesNo
from ledger.trade.words import Commodity


class AccountSide(Record):
    """One of the two accounts, as far as they may differ."""

    site: Name | None = None
    """Site it is kept for; the first site where left out."""
    organic: YesNo = False
    """Whether it is the account of organic goods."""
    grade: Name | None = None
    """Grade it is kept for, where the terms keep accounts by grade."""


class ClaimTransferred(Measured):
    """Bean equivalent went from one account to another: aside or down, never up."""

    kind: ClassVar[str] = "claim.transferred"

    transfer: Name
    """Name of the transfer."""
    scheme: Name
    """Scheme under which both accounts are kept."""
    commodity: Commodity = Commodity.COCOA
    """Commodity that both accounts count."""
    origin: Country | None = None
    """Country of origin of both, where the terms keep accounts by origin."""
    beans_kg: PositiveKilograms
    """Bean equivalent moved."""
    from_: Annotated[AccountSide, Field(alias="from")]
    """Account it is taken from."""
    to: AccountSide
    """Account it is added to."""
    reason: Text
    """Why, and who decided."""
