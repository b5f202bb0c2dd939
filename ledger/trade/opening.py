"""The entry that opens a ledger: whose it is, where, and under which key."""

from typing import ClassVar

from ledger.trade.codes import Country, Gln
from ledger.trade.quantity import Count
from ledger.trade.record import Name, Record, Text
from ledger.trade.signing import KeyLine


class Site(Record):
    """A place with an address of its own where goods are kept or worked."""

    site: Name
    """Short name by which entries refer to the site."""
    place: Text
    """Town or street address, as the certificate states it."""
    country: Country
    """ISO 3166-1 alpha-2 code of the country."""
    gln: Gln | None = None
    """Global Location Number of the site, where it has one."""


class LedgerOpened(Record):
    """The first entry of every ledger."""

    kind: ClassVar[str] = "ledger.opened"

    format_version: Count
    """Version of the entry format; a reader refuses a newer one."""
    organisation: Name
    """Short name of the maker, used wherever a party is named."""
    organisation_name: Text
    """The maker's name as the certificate states it."""
    sites: tuple[Site, ...]
    """The maker's sites; at least one."""
    public_key: KeyLine | None = None
    """Public key that signs for the ledger; left out where the program makes it."""
