"""What transferring a claim does: one account gives bean equivalent to another.

It goes aside, to another site, or down: from organic to conventional, from a better grade
to a lower one. It never goes up, and never to another origin.

Source: ISO 22095:2020, 3.3 (characteristics are kept or given up, never gained).
"""

from dataclasses import replace

from ledger.books.account import ALL, Account
from ledger.books.account_rule import account_under, refuse_unlisted_grade
from ledger.books.certificate import is_certified
from ledger.books.effect import Cause, Effects, Posting, Recorded, Subject, SubjectKind
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.lookup import expect, maker, site_named, terms_in_force
from ledger.books.shelf import Shelf
from ledger.trade.grams import to_grams
from ledger.trade.terms import TermsPublished
from ledger.trade.transfer import AccountSide, ClaimTransferred
from ledger.trade.words import Form


def effects_of_transfer(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what a transfer does: it takes from one account and adds to another.

    Raises:
        EntryRefusedError: The terms do not allow it, it would go up, or the maker's
            certificate does not cover the commodity.
    """
    transfer = expect(recorded.record, ClaimTransferred)
    day = recorded.occurred_on
    terms = terms_in_force(shelf, transfer.scheme, day, field="scheme")
    if transfer.commodity not in terms.commodities:
        raise refuse(
            "commodity-not-certified",
            "commodity",
            f"commodity is {transfer.commodity}, which {terms.scheme} does not certify; "
            f"use one of {', '.join(terms.commodities)}",
        )
    given = _account(shelf, recorded, terms, transfer.from_, field="from")
    taken = _account(shelf, recorded, terms, transfer.to, field="to")
    _refuse_not_allowed(terms, given, taken)
    _refuse_uncertified(shelf, recorded, transfer, terms)
    grams = to_grams(transfer.beans_kg)
    return Effects(
        introduces=(Subject(SubjectKind.TRANSFER, transfer.transfer),),
        mentions=(Subject(SubjectKind.SCHEME, transfer.scheme),),
        postings=(
            Posting(given.tally, day, -grams, Cause.TRANSFERRED),
            Posting(taken.tally, day, grams, Cause.TRANSFERRED),
        ),
    )


def _account(
    shelf: Shelf,
    recorded: Recorded,
    terms: TermsPublished,
    side: AccountSide,
    *,
    field: str,
) -> Account:
    transfer = expect(recorded.record, ClaimTransferred)
    refuse_unlisted_grade(terms, side.grade, field=f"{field}.grade", what="the account")
    if terms.account.match_origin and transfer.origin is None:
        raise refuse(
            "origin-unknown",
            "origin",
            f"origin is missing, but {terms.scheme} keeps accounts by origin; state the "
            "origin that both accounts are of",
        )
    return account_under(
        terms,
        recorded.occurred_on,
        commodity=transfer.commodity,
        form=Form.BEAN,
        site=site_named(shelf, side.site, field=f"{field}.site"),
        organic=side.organic,
        origin=transfer.origin,
        grade=side.grade,
    )


def _refuse_not_allowed(terms: TermsPublished, given: Account, taken: Account) -> None:
    if given == taken:
        raise refuse(
            "transfer-to-itself",
            "to",
            f"from and to are both account {given}; name two accounts, or leave the "
            "transfer out",
        )
    if _rises(terms, given, taken):
        raise _up(given, taken)
    needed = _ways(given, taken)
    for way, is_needed in needed.items():
        if is_needed and way not in terms.account.transfers:
            raise refuse(
                "transfer-not-allowed",
                "to",
                f"to is account {taken}, but the terms {terms.version} of {terms.scheme} "
                f'do not allow transfers "{way}"; keep it in account {given}, or claim '
                "what it covers there",
            )


def may_give(terms: TermsPublished, given: Account, taken: Account) -> bool:
    """Tell whether terms let one account give bean equivalent to another.

    What is kept for one form only is neither given nor taken, and neither is what the
    terms keep no account for any more.
    """
    kept = replace(
        given, site=taken.site, production=taken.production, grade=taken.grade
    )
    return (
        given != taken
        and kept == taken == taken.of_all_forms
        and _is_kept(terms, given)
        and _is_kept(terms, taken)
        and not _rises(terms, given, taken)
        and all(
            way in terms.account.transfers
            for way, is_needed in _ways(given, taken).items()
            if is_needed
        )
    )


def _is_kept(terms: TermsPublished, account: Account) -> bool:
    """Tell whether terms keep such an account; earlier ones may have kept others."""
    rule = terms.account
    return (
        (account.site == ALL) == (rule.scope == "group")
        and (account.production == ALL) != rule.match_organic
        and (account.origin == ALL) != rule.match_origin
        and account.grade in (rule.grades or (ALL,))
    )


def _rises(terms: TermsPublished, given: Account, taken: Account) -> bool:
    """Tell whether what is taken would be worth more than what is given."""
    if given.production != taken.production and taken.production == "organic":
        return True
    if given.grade == taken.grade:
        return False
    grades = terms.account.grades
    return grades.index(taken.grade) < grades.index(given.grade)


def _ways(given: Account, taken: Account) -> dict[str, bool]:
    """Return each way in which terms may allow a transfer, and whether it is needed."""
    return {
        "between sites": given.site != taken.site,
        "organic to conventional": given.production != taken.production,
        "to a lower grade": given.grade != taken.grade,
    }


def _up(given: Account, taken: Account) -> EntryRefusedError:
    return refuse(
        "transfer-up",
        "to",
        f"to is account {taken}, which is worth more than account {given}; claims are "
        "stepped down, never up, so leave it where it is",
    )


def _refuse_uncertified(
    shelf: Shelf, recorded: Recorded, transfer: ClaimTransferred, terms: TermsPublished
) -> None:
    holder = maker(shelf)
    if not is_certified(
        shelf,
        holder,
        terms.scheme,
        recorded.occurred_on,
        commodity=transfer.commodity,
    ):
        raise refuse(
            "maker-not-certified",
            "scheme",
            f"scheme is {terms.scheme}, but {holder.name} had no certificate under it "
            f"covering {transfer.commodity} on {recorded.occurred_on}; record it with "
            "certificate.recorded, or transfer on a day that it covers",
        )
