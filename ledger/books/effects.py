"""What each kind of entry does to the books: one function a kind."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from ledger.books import (
    admitting,
    advance,
    buying,
    closing,
    cocoa_content,
    counting,
    inspecting,
    making,
    receiving,
    reference,
    rejecting,
    returning,
    selling,
    signing,
    transferring,
    withdrawing,
)
from ledger.books.effect import Effects, Recorded
from ledger.books.finding import Finding, refuse
from ledger.books.shelf import Shelf
from ledger.books.usual import warnings_of_batch

EffectsOf = Callable[[Shelf, Recorded], Effects]
WarningsOf = Callable[[Shelf, Recorded], Iterator[Finding]]

_EFFECTS: Final[Mapping[str, EffectsOf]] = {
    "ledger.opened": reference.effects_of_opening,
    "party.registered": reference.effects_of_party,
    "certificate.recorded": reference.effects_of_certificate,
    "certificate.suspended": reference.effects_of_certificate_event,
    "certificate.withdrawn": reference.effects_of_certificate_event,
    "certificate.reinstated": reference.effects_of_certificate_event,
    "terms.published": reference.effects_of_terms,
    "limits.published": reference.effects_of_limits,
    "recipe.published": reference.effects_of_recipe,
    "quote.recorded": reference.effects_of_quotes,
    "rate.recorded": reference.effects_of_rates,
    "contract.signed": buying.effects_of_contract,
    "price.fixed": buying.effects_of_fixation,
    "advance.requested": buying.effects_of_request,
    "payment.made": buying.effects_of_payment,
    "shipment.dispatched": receiving.effects_of_dispatch,
    "shipment.received": receiving.effects_of_receipt,
    "batch.made": making.effects_of_batch,
    "lot.moved": making.effects_of_move,
    "lot.counted": making.effects_of_count,
    "lot.written_off": making.effects_of_write_off,
    "lot.rejected": rejecting.effects_of_rejection,
    "hold.placed": making.effects_of_hold,
    "hold.released": making.effects_of_release,
    "sale.dispatched": selling.effects_of_sale,
    "sale.returned": returning.effects_of_return,
    "claim.withdrawn": withdrawing.effects_of_withdrawal,
    "claim.transferred": transferring.effects_of_transfer,
    "period.closed": closing.effects_of_close,
    "checkpoint.signed": signing.effects_of_checkpoint,
    "document.attached": reference.effects_of_document,
    "disclosure.erased": reference.effects_of_erasure,
    "key.rotated": signing.effects_of_rotation,
    "key.revoked": signing.effects_of_revocation,
    "access.granted": admitting.effects_of_grant,
    "access.ended": admitting.effects_of_end,
    "finding.noted": inspecting.effects_of_finding,
    "finding.closed": inspecting.effects_of_settling,
}
"""What each kind of entry does to the books."""

_WARNINGS: Final[Mapping[str, WarningsOf]] = {
    "recipe.published": cocoa_content.warnings_of_recipe,
    "contract.signed": buying.warnings_of_contract,
    "payment.made": advance.warnings_of_payment,
    "shipment.received": receiving.warnings_of_receipt,
    "batch.made": warnings_of_batch,
    "lot.counted": counting.warnings_of_count,
}
"""What is worth a warning in each kind of entry."""

KINDS_WITH_WARNINGS: Final = tuple(_WARNINGS)
"""Kinds of entry about which there may be something unusual to say."""


def effects_of(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what an entry does to the books, given what else is on the shelf.

    Raises:
        EntryRefusedError: A rule of its kind refuses it.
    """
    return _EFFECTS[recorded.kind](shelf, recorded)


def warnings_of(shelf: Shelf, recorded: Recorded) -> tuple[Finding, ...]:
    """Return what is unusual about an entry that counts."""
    ask = _WARNINGS.get(recorded.kind)
    return () if ask is None else tuple(ask(shelf, recorded))


def refuse_taken(shelf: Shelf, effects: Effects) -> None:
    """Refuse names that are brought in a second time.

    Raises:
        EntryRefusedError: One of them is taken.
    """
    for subject in effects.introduces:
        holder = shelf.introducer(subject)
        if holder is not None:
            raise refuse(
                "name-taken",
                subject.kind,
                f"{subject} is already recorded by entry {holder.seq} of "
                f"{holder.occurred_on}; use another name, or correct that entry",
            )
    if len(set(effects.introduces)) < len(effects.introduces):
        repeated = min(s for s in effects.introduces if effects.introduces.count(s) > 1)
        raise refuse(
            "name-given-twice",
            repeated.kind,
            f"{repeated} stands twice in one entry; give each its own name",
        )
