"""Every kind of entry and the model of its body."""

from collections.abc import Mapping
from typing import Final

from ledger.errors import InputError
from ledger.trade.access import AccessEnded, AccessGranted
from ledger.trade.batch import BatchMade
from ledger.trade.contract import (
    AdvanceRequested,
    ContractSigned,
    PaymentMade,
    PriceFixed,
)
from ledger.trade.control import (
    Correction,
    DisclosureErased,
    DocumentAttached,
    PeriodClosed,
)
from ledger.trade.inspection import FindingClosed, FindingNoted
from ledger.trade.lot import (
    HoldPlaced,
    HoldReleased,
    LotCounted,
    LotMoved,
    LotRejected,
    LotWrittenOff,
)
from ledger.trade.market import QuoteRecorded, RateRecorded
from ledger.trade.opening import LedgerOpened
from ledger.trade.party import (
    CertificateRecorded,
    CertificateReinstated,
    CertificateSuspended,
    CertificateWithdrawn,
    PartyRegistered,
)
from ledger.trade.recipe import RecipePublished
from ledger.trade.record import Record
from ledger.trade.refusal import as_given, instead
from ledger.trade.sale import ClaimWithdrawn, SaleDispatched, SaleReturned
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived
from ledger.trade.signing import CheckpointSigned, KeyRevoked, KeyRotated
from ledger.trade.terms import LimitsPublished, TermsPublished
from ledger.trade.transfer import ClaimTransferred

_MODELS: Final = (
    LedgerOpened,
    PartyRegistered,
    CertificateRecorded,
    CertificateSuspended,
    CertificateWithdrawn,
    CertificateReinstated,
    TermsPublished,
    LimitsPublished,
    RecipePublished,
    QuoteRecorded,
    RateRecorded,
    ContractSigned,
    PriceFixed,
    ShipmentDispatched,
    ShipmentReceived,
    AdvanceRequested,
    PaymentMade,
    BatchMade,
    LotMoved,
    LotCounted,
    LotWrittenOff,
    LotRejected,
    HoldPlaced,
    HoldReleased,
    SaleDispatched,
    SaleReturned,
    ClaimWithdrawn,
    ClaimTransferred,
    Correction,
    PeriodClosed,
    CheckpointSigned,
    DocumentAttached,
    DisclosureErased,
    KeyRotated,
    KeyRevoked,
    AccessGranted,
    AccessEnded,
    FindingNoted,
    FindingClosed,
)

KINDS: Final[Mapping[str, type[Record]]] = {model.kind: model for model in _MODELS}
"""Model of the body by kind."""


def model_of(kind: str) -> type[Record]:
    """Return the model that bodies of a kind follow.

    Raises:
        InputError: There is no such kind.
    """
    try:
        return KINDS[kind]
    except KeyError:
        raise InputError(
            f"kind {as_given(kind)} is not one that a ledger records; "
            f"{instead(kind, sorted(KINDS))}"
        ) from None


def sealed_fields(kind: str) -> tuple[str, ...]:
    """Return the members of a kind's body that are sealed when it is recorded."""
    return model_of(kind).sealed
