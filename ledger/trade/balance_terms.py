"""What terms say about accounts and claims: keys, conversion, norms, labels."""

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from ledger.trade.quantity import Count, Percent, PositiveKilograms, Scale, Share
from ledger.trade.record import Day, Name, Record, Text, YesNo
from ledger.trade.words import Commodity, Custody, Form, Step

Factor = Annotated[
    Decimal,
    Scale(
        lowest=Decimal("0.000001"),
        highest=Decimal(100),
        places=6,
        written_places=2,
        way_out="write the factor with six decimals at most, as published",
    ),
]
"""Kilograms of beans that one kilogram of a form stands for."""


def _check_once(words: tuple[str, ...]) -> tuple[str, ...]:
    for word in words:
        if words.count(word) > 1:
            raise ValueError(f"{word} stands more than once; name each once")
    return words


class AccountRule(Record):
    """What a mass-balance account is kept by, and how it moves."""

    scope: Literal["site", "group"] = "site"
    """Whether each site has its own account, or all sites share one."""
    match_origin: YesNo = False
    """Whether each country of origin has its own account."""
    match_organic: YesNo = True
    """Whether organic and conventional have their own accounts."""
    grades: Annotated[tuple[Name, ...], AfterValidator(_check_once)] = ()
    """Grades with accounts of their own, best first; none given means grade is free."""
    within_day: Literal["as recorded", "receipts first"] = "as recorded"
    """Order in which movements of one date count."""
    credit_weight: Literal["lesser", "shipped", "landed"] = "lesser"
    """Which weighing of a receipt is added to the account."""
    below_zero_kg: PositiveKilograms | None = None
    """How far below zero it may stand within a period, settled by its end; else never."""
    transfers: Annotated[
        tuple[
            Literal["between sites", "organic to conventional", "to a lower grade"], ...
        ],
        AfterValidator(_check_once),
    ] = ()
    """What may be moved from one account to another; nothing is ever moved up."""

    @model_validator(mode="after")
    def _transfers_have_accounts(self) -> Self:
        kept = {
            "between sites": self.scope == "site",
            "organic to conventional": self.match_organic,
            "to a lower grade": len(self.grades) > 1,
        }
        for transfer in self.transfers:
            if not kept[transfer]:
                raise ValueError(
                    f'transfers allow "{transfer}", but the accounts do not tell these '
                    "apart; take it out, or keep accounts that do"
                )
        return self


class Conversion(Record):
    """One dated factor to bean equivalent."""

    commodity: Commodity = Commodity.COCOA
    """Commodity the factor is for."""
    form: Form
    """Form the factor is for."""
    factor: Factor | None = None
    """Kilograms of bean equivalent for one kilogram of the form."""
    yield_percent: Percent | None = None
    """Instead of the factor: kilograms of the form that 100 kilograms of beans give."""
    valid_from: Day
    """First date the factor governs."""
    source: Text
    """Document and clause it comes from."""

    @model_validator(mode="after")
    def _is_one_figure(self) -> Self:
        if (self.factor is None) == (not self.yield_percent):
            raise ValueError(
                f"the conversion of {self.commodity} as {self.form} states "
                f"{'neither' if self.factor is None else 'both'} of factor and "
                "yield_percent; state the one that is published, above 0"
            )
        return self

    @property
    def to_beans(self) -> Fraction:
        """Kilograms of bean equivalent for one kilogram of the form, exact."""
        if self.factor is not None:
            return Fraction(self.factor)
        return 100 / Fraction(self.yield_percent or 100)


class JointOutput(Record):
    """One of the forms that come out together."""

    form: Form
    """Form that comes out."""
    share: Share
    """Its part of what comes out, 0 to 1."""


class JointOutputs(Record):
    """Forms of cocoa that come out of another together: butter and powder of liquor.

    What is left over of one after a claim on the other stays in an account of its own.
    """

    of: Form
    """Form that is parted; its own factor converts it to beans."""
    outputs: Annotated[tuple[JointOutput, ...], Field(min_length=2)]
    """What comes out; the shares sum to one."""
    valid_from: Day
    """First date on which they are counted together."""
    source: Text
    """Document and clause it comes from."""

    @model_validator(mode="after")
    def _outputs_fill_it(self) -> Self:
        forms = [self.of, *(output.form for output in self.outputs)]
        _check_once(tuple(forms))
        total = sum(output.share for output in self.outputs)
        if total != 1 or any(not output.share for output in self.outputs):
            raise ValueError(
                f"outputs of {self.of} from {self.valid_from} share {total}; shares are "
                "above 0 and sum to 1 exactly, so adjust one of them"
            )
        return self


class MeasuredYields(Record):
    """Forms whose factor is what the maker's own batches gave."""

    forms: Annotated[tuple[Form, ...], Field(min_length=1), AfterValidator(_check_once)]
    """Forms of cocoa that are converted by measured yields, where there are any."""
    window_months: Annotated[Count, Field(ge=1, le=36)]
    """Whole calendar months before the month of the trade date that are averaged."""
    source: Text
    """Document and clause it comes from."""


class LossNorm(Record):
    """The most that a step is expected to lose."""

    step: Step
    """Step of making."""
    most_percent: Percent
    """Most that is lost, in per cent of what goes in; more is flagged."""
    source: Text
    """Document and clause it comes from."""


class CompositeRule(Record):
    """How much of a product of several ingredients must be certified."""

    least_percent: Percent
    """Least part by weight that must be of certified commodities, in per cent."""
    leave_out: Annotated[tuple[Commodity, ...], AfterValidator(_check_once)] = ()
    """Ingredients left out of the reckoning, such as water and milk."""
    leave_out_above_percent: Percent = Decimal(0)
    """They are left out only where together they are more than this, in per cent."""
    source: Text
    """Document and clause it comes from."""


class Label(Record):
    """A text that goods under the scheme may be sold with."""

    text: Text
    """The text, as the scheme prints it."""
    custody: Annotated[tuple[Custody, ...], AfterValidator(_check_once)] = ()
    """Custody models it may be used with; none given means all."""
