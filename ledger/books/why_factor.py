"""Why a kilogram of a form stands for so many kilograms of beans, line by line."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from ledger.books.conversion import factor_to_beans, is_measured, published_row
from ledger.books.effect import Subject, SubjectKind
from ledger.books.joint import joint_outputs_with
from ledger.books.measured import MeasuredBatch, MeasuredStep, measured_steps
from ledger.books.paid_weight import kg
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.working import Working
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


def factor_workings(
    shelf: Shelf, terms: TermsPublished, commodity: Commodity, form: Form, on: date
) -> Iterator[Working]:
    """Yield how a factor to bean equivalent was reached; the last line is the factor.

    Args:
        shelf: What is recorded.
        terms: Terms in force.
        commodity: Commodity concerned.
        form: Its form.
        on: Trade date.

    Raises:
        EntryRefusedError: The terms have no factor for that form on that date.
    """
    joint = joint_outputs_with(terms, commodity, form, on)
    counted = form
    if joint is not None:
        counted = joint.of
        yield Working(
            f"{form} comes out of {counted} beside other forms, so it is counted as that",
            counted,
            terms_rule(terms, joint.source),
            terms_entry(shelf, terms),
        )
    if is_measured(terms, commodity, counted):
        steps = measured_steps(shelf, terms, counted, on)
        if steps and steps[-1].after is counted:
            for step in steps:
                yield from _measured(terms, step)
            return
    yield from _published(shelf, terms, commodity, counted, on)


def factor_of(
    shelf: Shelf, terms: TermsPublished, commodity: Commodity, form: Form, on: date
) -> str:
    """Return a factor as the last line of its workings shows it."""
    return ratio(factor_to_beans(shelf, terms, commodity, form, on, field="lots"))


def ratio(figure: Fraction) -> str:
    """Return a figure exactly: in decimals where they end, else as a ratio."""
    text = shown(figure)
    return f"({figure.numerator} / {figure.denominator})" if text[-1] == "…" else text


def terms_rule(terms: TermsPublished, source: str) -> str:
    """Return the rule that a row of terms is, with the document it restates."""
    return f"{terms.scheme} {terms.version}: {source}"


def terms_entry(shelf: Shelf, terms: TermsPublished) -> int | None:
    """Return the number of the entry that published some terms."""
    name = Subject(SubjectKind.TERMS, f"{terms.scheme}@{terms.version}")
    found = shelf.introducer(name)
    return None if found is None else found.seq


def _published(
    shelf: Shelf,
    terms: TermsPublished,
    commodity: Commodity,
    form: Form,
    on: date,
) -> Iterator[Working]:
    row = published_row(terms, commodity, form, on, field="lots")
    rule, entry = terms_rule(terms, row.source), terms_entry(shelf, terms)
    text = f"factor of {commodity} as {form}, valid from {row.valid_from}"
    if row.yield_percent is None:
        yield Working(text, ratio(row.to_beans), rule, entry)
        return
    percent = shown(Fraction(row.yield_percent))
    yield Working(
        f"yield of {commodity} as {form} from 100 kg of beans, valid from "
        f"{row.valid_from}",
        f"{percent} kg",
        rule,
        entry,
    )
    yield Working(text, ratio(row.to_beans), reckoning=f"100 / {percent}")


def _measured(terms: TermsPublished, step: MeasuredStep) -> Iterator[Working]:
    """Yield the beans behind the batches that gave a form, and the factor they give."""
    by_form: dict[Form, list[MeasuredBatch]] = {}
    for batch in step.batches:
        by_form.setdefault(batch.before, []).append(batch)
    taken = []
    for before, batches in by_form.items():
        entries = ", ".join(str(batch.recorded.seq) for batch in batches)
        grams = sum(batch.taken_g for batch in batches)
        yield Working(
            f"{before} that went into {step.after}, entries {entries}",
            f"{kg(grams)} kg",
            reckoning=" + ".join(kg(batch.taken_g) for batch in batches),
        )
        taken.append(f"{kg(grams)} * {ratio(batches[0].factor)}")
    given_g = sum(batch.given_g for batch in step.batches)
    yield Working(
        f"{step.after} that came out",
        f"{kg(given_g)} kg",
        reckoning=" + ".join(kg(batch.given_g) for batch in step.batches),
    )
    source = "" if terms.measured_yields is None else terms.measured_yields.source
    yield Working(
        f"factor of cocoa as {step.after}, as measured",
        ratio(step.factor),
        terms_rule(terms, source),
        reckoning=f"({' + '.join(taken)}) / {kg(given_g)}",
    )
