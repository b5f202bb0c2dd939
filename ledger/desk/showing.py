"""Which sealed values a pack shows its reader, by the profile it is made under."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry, parse_entry
from ledger.chain.seal import parse_disclosure
from ledger.store.entries import entry_raw, stream_disclosures
from ledger.trade.contract import ContractSigned
from ledger.trade.profile import Profile
from ledger.trade.sale import SaleDispatched
from ledger.trade.words import Duty

if TYPE_CHECKING:
    from ledger.store.rows import Rows

Body = Mapping[str, JsonValue]
_ON_TOP: Final = frozenset({Duty.SEASONAL, Duty.ORGANIC, Duty.PREMIUM})
"""Duties that published terms put on top of the price; what is paid towards others tells
the price itself, and is shown with it."""


@dataclass(frozen=True, slots=True)
class Reader:
    """Who a pack is made for: what decides whether they see a sealed value.

    Attributes:
        profile: The profile it is made under.
        shelf: What is recorded.
        portion: The part of the ledger that is shown; None for the whole of it.
        entries: Numbers of the entries that are shown; None for all.
        sales: Names of the sampled sales.
        customers: The parties that bought in them.
    """

    profile: Profile
    shelf: Shelf
    portion: Portion | None
    entries: frozenset[int] | None
    sales: frozenset[str]
    customers: frozenset[str]

    @classmethod
    def of(
        cls,
        profile: Profile,
        shelf: Shelf,
        sales: Iterable[str],
        *,
        portion: Portion | None = None,
        entries: frozenset[int] | None = None,
    ) -> "Reader":
        """Return the reader of a pack with some sampled sales."""
        sampled = frozenset(sales)
        customers = customers_of(shelf, sampled)
        return cls(profile, shelf, portion, entries, sampled, customers)

    def sees_entry(self, seq: int) -> bool:
        """Tell whether an entry is shown at all."""
        return self.entries is None or seq in self.entries

    def sees(self, kind: str, member: str, body: Body) -> bool:
        """Tell whether a sealed member of a body is shown.

        Args:
            kind: Kind of the entry, or of what stands in for it.
            member: Name of the member.
            body: The body, with what is sealed taken out.
        """
        match kind, member:
            case "party.registered", "legal_name":
                return self._sees_name(body)
            case "party.registered", "address":
                addresses = self.profile.addresses
                return any(role in addresses for role in _texts(body.get("roles")))
            case "contract.signed", "price":
                schemes = _schemes(body)
                return self._sees_price(str(body.get("contract")), schemes)
            case ("price.fixed", "level") | (
                "payment.made" | "advance.requested",
                "money",
            ):
                return self._sees_sum(body)
            case "sale.dispatched", "value":
                return self._sees_value(body)
            case _:
                return False

    def may_see(self, member: str) -> bool:
        """Tell whether there is any sealed member of this name that is shown."""
        hidden_by = {
            "contacts": True,
            "address": not self.profile.addresses,
            "value": self.profile.sale_values == "none",
        }
        return not hidden_by.get(member, False)

    def _sees_name(self, body: Body) -> bool:
        roles = set(_texts(body.get("roles")))
        return any(
            names.role in roles
            and (names.show == "all" or body.get("party") in self.customers)
            for names in self.profile.names
        )

    def _sees_price(self, contract: str, schemes: frozenset[str]) -> bool:
        if not self._has_whole(contract):
            return False
        if self.profile.prices == "under the schemes":
            return not schemes.isdisjoint(self.profile.schemes)
        return self.profile.prices == "all"

    def _sees_sum(self, body: Body) -> bool:
        """Tell whether a sum that was fixed, asked for or paid of a price is shown."""
        contract = str(body.get("contract"))
        if body.get("towards") in _ON_TOP:
            return self._has_whole(contract)
        return self._sees_price(contract, self._schemes_of(contract))

    def _has_whole(self, contract: str) -> bool:
        """Tell whether all of a contract is shown; else its sums say nothing."""
        return not self.portion or self.portion.has_contract(self.shelf, contract)

    def _schemes_of(self, contract: str) -> frozenset[str]:
        found = self.shelf.introducer(Subject(SubjectKind.CONTRACT, contract))
        if found is None:
            return frozenset()
        claims = expect(found.record, ContractSigned).claims
        return frozenset(claim.scheme for claim in claims)

    def _sees_value(self, body: Body) -> bool:
        if self.profile.sale_values == "under the schemes":
            lines = body.get("lines")
            schemes = frozenset[str]().union(
                *(_schemes(line) for line in _groups(lines))
            )
            return not schemes.isdisjoint(self.profile.schemes)
        if self.profile.sale_values == "sampled sales":
            return body.get("sale") in self.sales
        return self.profile.sale_values == "all"


@dataclass(frozen=True, slots=True)
class SealedValue:
    """One sealed value that can be opened.

    Attributes:
        seq: Number of its entry.
        party: Of a party's value, the party.
        member: Name of the sealed member.
        text: Its disclosure.
    """

    seq: int
    party: str | None
    member: str
    text: str


@dataclass(frozen=True, slots=True)
class Decided:
    """One sealed value, and whether it is shown.

    Attributes:
        seq: Number of its entry.
        kind: Kind of the entry, or of what stands in for it.
        member: Name of the sealed member.
        text: Its disclosure.
        is_shown: Whether the reader sees it.
        roles: Of a party's value, what the party is to the maker.
    """

    seq: int
    kind: str
    member: str
    text: str
    is_shown: bool
    roles: tuple[str, ...] = ()


def customers_of(shelf: Shelf, sales: Collection[str]) -> frozenset[str]:
    """Return the parties that bought in some sales."""
    found = (shelf.introducer(Subject(SubjectKind.SALE, sale)) for sale in sales)
    return frozenset(
        expect(recorded.record, SaleDispatched).customer
        for recorded in found
        if recorded is not None
    )


def sealed_values(rows: "Rows") -> Iterator[SealedValue]:
    """Yield every sealed value that can be opened, in order of entry and digest."""
    for seq, text in stream_disclosures(rows):
        kind, body = what_is_sealed(parse_entry(entry_raw(rows, seq)))
        party = body.get("party") if kind == "party.registered" else None
        name = party if isinstance(party, str) else None
        yield SealedValue(seq, name, parse_disclosure(text).name, text)


def decide(rows: "Rows", reader: Reader) -> Iterator[Decided]:
    """Yield every sealed value of the entries that are shown, in order of entry and digest.

    Args:
        rows: The ledger.
        reader: Who a pack is made for.
    """
    for seq, text in stream_disclosures(rows):
        if reader.sees_entry(seq):
            yield _decided(rows, reader, seq, text)


def _decided(rows: "Rows", reader: Reader, seq: int, text: str) -> Decided:
    kind, body = what_is_sealed(parse_entry(entry_raw(rows, seq)))
    member = parse_disclosure(text).name
    roles = tuple(_texts(body.get("roles"))) if kind == "party.registered" else ()
    return Decided(seq, kind, member, text, reader.sees(kind, member, body), roles)


def shown_disclosures(rows: "Rows", reader: Reader) -> Iterator[tuple[int, str]]:
    """Yield the disclosures that a pack carries, in order of entry and digest.

    Yields:
        Number of the entry and text of the disclosure.
    """
    for seq, text in stream_disclosures(rows):
        # Most sealed values are of a sort that is never shown; their entries need no look.
        if reader.sees_entry(seq) and reader.may_see(parse_disclosure(text).name):
            decided = _decided(rows, reader, seq, text)
            if decided.is_shown:
                yield seq, text


def what_is_sealed(entry: Entry) -> tuple[str, Body]:
    """Return kind and body that sealed values of an entry belong to."""
    match entry.body.get("replacement"):
        case {"entry_kind": str() as kind, "body": dict() as body}:
            return kind, body
        case _:
            return entry.kind, entry.body


def _schemes(body: Body) -> frozenset[str]:
    """Return the schemes that the claims of a contract or sale line name."""
    return frozenset(
        scheme
        for claim in _groups(body.get("claims"))
        if isinstance(scheme := claim.get("scheme"), str)
    )


def _groups(value: JsonValue) -> Iterator[Body]:
    for one in value if isinstance(value, list) else ():
        if isinstance(one, dict):
            yield one


def _texts(value: JsonValue) -> Iterator[str]:
    for one in value if isinstance(value, list) else ():
        if isinstance(one, str):
            yield one
