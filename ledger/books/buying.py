"""What entries of buying do: contracts, fixations, advances asked for, and payments."""

from collections.abc import Iterator

from ledger.books.certificate import is_certified
from ledger.books.claim_rule import refuse_beside
from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import Finding, refuse, warning
from ledger.books.lookup import contract_named, expect, require, terms_in_force
from ledger.books.shelf import Shelf
from ledger.trade.contract import (
    AdvanceRequested,
    ContractSigned,
    PaymentMade,
    PriceFixed,
)
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.money import Money, currency_of
from ledger.trade.terms import FARMERS


def effects_of_contract(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what signing a contract does: goods may come under it.

    Raises:
        EntryRefusedError: The seller or the terms of a scheme are not recorded, a scheme
            is named twice, or beside one that its terms exclude.
    """
    contract = expect(recorded.record, ContractSigned)
    schemes = [claim.scheme for claim in contract.claims]
    seller = Subject(SubjectKind.PARTY, contract.seller)
    require(shelf, seller, field="seller")
    for place, claim in enumerate(contract.claims):
        if claim.scheme in schemes[:place]:
            raise refuse(
                "claimed-twice",
                f"claims.{place}.scheme",
                f"claims.{place}.scheme is {claim.scheme}, which the contract claims "
                "already; a kilogram counts once under each scheme, so keep one of them",
            )
        where = f"claims.{place}.scheme"
        terms = terms_in_force(shelf, claim.scheme, recorded.occurred_on, field=where)
        refuse_beside(terms, contract.claims, field=where)
    return Effects(
        introduces=(Subject(SubjectKind.CONTRACT, contract.contract),),
        mentions=(
            seller,
            *(Subject(SubjectKind.SCHEME, claim.scheme) for claim in contract.claims),
        ),
    )


def warnings_of_contract(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield claims for which the seller has no certificate on the contract's date."""
    contract = expect(recorded.record, ContractSigned)
    seller = Subject(SubjectKind.PARTY, contract.seller)
    for place, claim in enumerate(contract.claims):
        if not is_certified(
            shelf,
            seller,
            claim.scheme,
            recorded.occurred_on,
            commodity=contract.commodity,
            custody=claim.custody,
            organic=contract.organic,
        ):
            yield warning(
                "seller-not-certified",
                f"claims.{place}",
                f"claims.{place} is {claim.scheme}, but {contract.seller} has no "
                f"certificate covering it that counts on {recorded.occurred_on}; ask "
                "for the certificate before the goods ship",
            )


def effects_of_fixation(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what fixing a price does: a part of a contract has its price.

    Raises:
        EntryRefusedError: The contract is unknown, has a fixed price, or would be fixed
            for more than its quantity.
    """
    fixation = expect(recorded.record, PriceFixed)
    contract = contract_named(shelf, fixation.contract, field="contract")
    subject = Subject(SubjectKind.CONTRACT, fixation.contract)
    if contract.price is not None and contract.price.basis == "fixed":
        raise refuse(
            "price-already-fixed",
            "contract",
            f"contract {fixation.contract} has a fixed price, so there is nothing to "
            "fix; correct the contract if its price was to be fixed",
        )
    open_g = to_grams(contract.quantity_kg) - sum(
        to_grams(expect(other.record, PriceFixed).quantity_kg)
        for other in shelf.about(subject, "price.fixed")
        if other.slot != recorded.slot
    )
    if to_grams(fixation.quantity_kg) > open_g:
        raise refuse(
            "fixed-beyond-contract",
            "quantity_kg",
            f"quantity_kg is {fixation.quantity_kg}, but contract {fixation.contract} "
            f"has {show_kg(open_g)} kg left to fix; fix at most that",
        )
    return Effects(
        introduces=(Subject(SubjectKind.FIXATION, fixation.fixation),),
        mentions=(subject,),
    )


def effects_of_payment(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a payment does: something is paid of what is due.

    Raises:
        EntryRefusedError: Contract or payee is unknown, or the currency is another.
    """
    payment = expect(recorded.record, PaymentMade)
    contract = contract_named(shelf, payment.contract, field="contract")
    paid = contract.seller if payment.payee == FARMERS else payment.payee
    payee = Subject(SubjectKind.PARTY, paid)
    require(shelf, payee, field="payee")
    _refuse_other_currency(contract, payment.money)
    return Effects(
        introduces=(Subject(SubjectKind.PAYMENT, payment.payment),),
        mentions=(Subject(SubjectKind.CONTRACT, payment.contract), payee),
    )


def effects_of_request(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what asking for an advance does: it can be seen whether it was paid.

    Raises:
        EntryRefusedError: The contract is unknown, or the currency is another.
    """
    request = expect(recorded.record, AdvanceRequested)
    contract = contract_named(shelf, request.contract, field="contract")
    _refuse_other_currency(contract, request.money)
    return Effects(
        introduces=(Subject(SubjectKind.REQUEST, request.request),),
        mentions=(
            Subject(SubjectKind.CONTRACT, request.contract),
            Subject(SubjectKind.PARTY, contract.seller),
        ),
    )


def _refuse_other_currency(contract: ContractSigned, money: Money | None) -> None:
    """Refuse a sum that is not in the currency of its contract, where both are known."""
    if contract.price is None or money is None:
        return
    price = (
        contract.price.price
        if contract.price.basis == "fixed"
        else contract.price.differential
    )
    if money.currency != currency_of(price):
        raise refuse(
            "currency-differs",
            "money",
            f"money is in {money.currency}, but contract {contract.contract} is in "
            f"{currency_of(price)}; record the amount that the bank converted it to, in "
            "the currency of the contract",
        )
