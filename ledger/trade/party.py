"""Parties, their certificates, and what happens to those certificates."""

from typing import ClassVar

from ledger.trade.codes import Country, Gln
from ledger.trade.quantity import Count
from ledger.trade.record import Day, Name, Record, Text, YesNo
from ledger.trade.words import Commodity, Custody, PartyRole


class Contact(Record):
    """How to reach a party, for a recall or a query."""

    person: Text | None = None
    """Name of the person or desk to ask for."""
    phone: Text | None = None
    """Telephone number with country code."""
    email: Text | None = None
    """E-mail address."""


class PartyRegistered(Record):
    """Somebody the maker buys from, sells to, pays or is audited by."""

    kind: ClassVar[str] = "party.registered"
    sealed: ClassVar[tuple[str, ...]] = ("legal_name", "address", "contacts")

    party: Name
    """Short name by which entries refer to the party; it should not identify a person."""
    roles: tuple[PartyRole, ...]
    """What the party is to the maker; at least one."""
    country: Country
    """ISO 3166-1 alpha-2 code of the country the party is in."""
    legal_name: Text | None = None
    """Name as it stands on contracts and invoices; sealed."""
    address: Text | None = None
    """Postal address; sealed."""
    contacts: tuple[Contact, ...] = ()
    """Whom to call, for example in a recall; sealed."""
    gln: Gln | None = None
    """Global Location Number, where the party has one."""
    registered_farmers: Count | None = None
    """Number of registered farmers of a cooperative (ISO 34101-1, registered farmer)."""


class CertificateRecorded(Record):
    """A certificate that a party, or the maker itself, holds under a scheme."""

    kind: ClassVar[str] = "certificate.recorded"

    certificate: Name
    """Short name by which entries refer to the certificate."""
    holder: Name
    """The party that holds it, or the maker's own organisation."""
    scheme: Name
    """The scheme it was granted under."""
    number: Text
    """Number printed on the certificate."""
    issued_by: Text
    """The certifier that issued it."""
    valid_from: Day
    """First day of validity."""
    valid_until: Day
    """Last day of validity."""
    commodities: tuple[Commodity, ...] = (Commodity.COCOA,)
    """What its scope covers."""
    custody: tuple[Custody, ...] = tuple(Custody)
    """Chain-of-custody models its scope covers."""
    organic: YesNo = False
    """Whether its scope covers organic production."""


class CertificateSuspended(Record):
    """A certificate stopped being valid for the time being, from a day on."""

    kind: ClassVar[str] = "certificate.suspended"

    certificate: Name
    """The certificate concerned."""
    from_on: Day
    """First day on which it no longer counts; may lie before the day it was learnt."""
    reason: Text
    """Why, as the certifier gave it."""


class CertificateWithdrawn(Record):
    """A certificate was taken back for good, from a day on."""

    kind: ClassVar[str] = "certificate.withdrawn"

    certificate: Name
    """The certificate concerned."""
    from_on: Day
    """First day on which it no longer counts; may lie before the day it was learnt."""
    reason: Text
    """Why, as the certifier gave it."""


class CertificateReinstated(Record):
    """A suspended certificate counts again, from a day on."""

    kind: ClassVar[str] = "certificate.reinstated"

    certificate: Name
    """The certificate concerned."""
    from_on: Day
    """First day on which it counts again."""
    reason: Text
    """Why, as the certifier gave it."""
