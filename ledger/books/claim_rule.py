"""What terms ask of a claim itself: its model, its neighbours, its label, its share."""

from collections.abc import Iterable, Sequence
from fractions import Fraction

from ledger.books.certified import Content
from ledger.books.finding import refuse
from ledger.books.rounding import shown
from ledger.trade.balance_terms import CompositeRule
from ledger.trade.contract import Claim
from ledger.trade.sale import SaleClaim, SaleLine
from ledger.trade.terms import TermsPublished


def refuse_repeated(line: SaleLine, claim: Claim, *, field: str) -> None:
    """Refuse a second claim of one lot under one scheme.

    Raises:
        EntryRefusedError: The line claims the scheme twice.
    """
    if sum(other.scheme == claim.scheme for other in line.claims) > 1:
        raise refuse(
            "claimed-twice",
            field,
            f"{field} claims {claim.scheme} more than once for lot {line.lot}; a "
            "kilogram is claimed once under each scheme, so keep one of the claims",
        )


def refuse_custody(terms: TermsPublished, claim: Claim, *, field: str) -> None:
    """Refuse a custody model that the terms do not allow.

    Raises:
        EntryRefusedError: They do not.
    """
    if claim.custody not in terms.custody:
        allowed = ", ".join(terms.custody)
        raise refuse(
            "custody-not-allowed",
            field,
            f"{field} claims {claim.custody}, but the terms {terms.version} of "
            f"{terms.scheme} allow {allowed}; use one of these",
        )


def refuse_beside(
    terms: TermsPublished, claims: Iterable[Claim], *, field: str
) -> None:
    """Refuse a claim beside another that its terms exclude.

    Raises:
        EntryRefusedError: One of the claims is under a scheme that may not stand beside.
    """
    for other in claims:
        if other.scheme in terms.not_beside:
            raise refuse(
                "claimed-beside",
                field,
                f"{field} claims {terms.scheme} beside {other.scheme}, which the terms "
                f"{terms.version} of {terms.scheme} exclude; keep one of the two",
            )


def refuse_label(terms: TermsPublished, claim: SaleClaim, *, field: str) -> None:
    """Refuse a label text that the terms do not list for the custody model.

    Raises:
        EntryRefusedError: They do not list it, or list some and the claim names none.
    """
    allowed = [
        label.text
        for label in terms.labels
        if not label.custody or claim.custody in label.custody
    ]
    if claim.label in allowed or (claim.label is None and not terms.labels):
        return
    named = "no label" if claim.label is None else f'the label "{claim.label}"'
    listed = ", ".join(f'"{text}"' for text in allowed) or "none"
    raise refuse(
        "label-not-allowed",
        f"{field}.label",
        f"{field} names {named}, but for {claim.custody} the terms {terms.version} of "
        f"{terms.scheme} list {listed}; "
        f"{'use one of these texts' if allowed else 'take it out'}",
    )


def refuse_small_share(
    terms: TermsPublished,
    contents: Sequence[Content],
    claim: SaleClaim,
    *,
    lot: str,
    field: str,
) -> None:
    """Refuse a claim on a product of which too little is certified.

    Raises:
        EntryRefusedError: The certified part is less than the terms ask for.
    """
    rule = terms.composite
    if rule is None or len(contents) < 2:  # noqa: PLR2004 - several ingredients
        return
    share = certified_share(terms, rule, contents)
    share *= claim.part
    if share * 100 < rule.least_percent:
        raise refuse(
            "share-too-small",
            field,
            f"{field} claims {terms.scheme} for lot {lot}, of which "
            f"{shown(share * 100)} per cent is certified, but the terms ask for at least "
            f"{shown(Fraction(rule.least_percent))} per cent ({rule.source}); "
            "sell it without the claim",
        )


def certified_share(
    terms: TermsPublished, rule: CompositeRule, contents: Iterable[Content]
) -> Fraction:
    """Return the certified part of a product by weight, as the terms reckon it.

    What the terms leave out counts for nothing, where together it is more than they say.

    Args:
        terms: Terms in force.
        rule: Their rule for products of several ingredients.
        contents: What the product is made of; the shares sum to one.
    """
    parts = list(contents)
    certified = sum(
        (p.share for p in parts if p.commodity in terms.commodities), Fraction(0)
    )
    left_out = sum(
        (p.share for p in parts if p.commodity in rule.leave_out), Fraction(0)
    )
    if left_out * 100 <= rule.leave_out_above_percent:
        return certified
    certified -= sum(
        p.share
        for p in parts
        if p.commodity in rule.leave_out and p.commodity in terms.commodities
    )
    return certified / (1 - left_out) if left_out < 1 else Fraction(0)
