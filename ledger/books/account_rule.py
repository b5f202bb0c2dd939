"""Which account something belongs to, as the terms of its scheme say."""

from datetime import date

from ledger.books.account import ALL, Account
from ledger.books.finding import refuse
from ledger.books.joint import joint_outputs_with
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


def account_under(
    terms: TermsPublished,
    on: date,
    *,
    commodity: Commodity,
    form: Form,
    site: str,
    organic: bool,
    origin: str | None,
    grade: str | None,
) -> Account:
    """Return the account that goods are counted in under some terms.

    Where the terms tell origins or grades apart and it is not known, the account is that
    of "all" origins or grades, in which nothing certified is ever received.

    Args:
        terms: Terms in force.
        on: Trade date.
        commodity: What the goods are.
        form: Form they are counted in.
        site: Site they are at.
        organic: Whether they are organic.
        origin: Country of origin, where it is one.
        grade: Grade, where it is one.
    """
    rule = terms.account
    joint = joint_outputs_with(terms, commodity, form, on)
    return Account(
        scheme=terms.scheme,
        commodity=commodity,
        site=ALL if rule.scope == "group" else site,
        production=production(terms, organic=organic),
        origin=(origin or ALL) if rule.match_origin else ALL,
        grade=(grade or ALL) if rule.grades else ALL,
        form=ALL if joint is None else form,
    )


def production(terms: TermsPublished, *, organic: bool) -> str:
    """Return the part of an account's key that says how the goods were grown."""
    if not terms.account.match_organic:
        return ALL
    return "organic" if organic else "conventional"


def refuse_unlisted_grade(
    terms: TermsPublished, grade: str | None, *, field: str, what: str
) -> None:
    """Refuse a grade that the terms keep no account for, or none where they need one.

    Raises:
        EntryRefusedError: Terms with grades do not list it.
    """
    grades = terms.account.grades
    if grades and grade not in grades:
        stated = "states no grade" if grade is None else f"is of grade {grade}"
        raise refuse(
            "grade-not-listed",
            field,
            f"{field}: {what} {stated}, but the terms {terms.version} of {terms.scheme} "
            f"keep accounts for {', '.join(grades)}; state one of these grades",
        )
