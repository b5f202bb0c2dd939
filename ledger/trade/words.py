"""The closed lists of words that entries use, in the trade's own terms."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema


class Word(StrEnum):
    """A closed list that strict records read from its written word."""

    @classmethod
    def __get_pydantic_core_schema__(
        cls, source: type, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Let text stand for its member, which strict mode would refuse."""
        schema = dict(handler(source))
        schema["strict"] = False
        return cast("CoreSchema", schema)


class Commodity(Word):
    """What kind of agricultural material a mass is."""

    COCOA = "cocoa"
    SUGAR = "sugar"
    VANILLA = "vanilla"
    MILK = "milk"
    WATER = "water"
    OTHER = "other"


class Form(Word):
    """The form a commodity has reached, in the words of the cocoa trade."""

    BEAN = "bean"
    ROASTED_BEAN = "roasted bean"
    NIB = "nib"
    LIQUOR = "liquor"
    BUTTER = "butter"
    CAKE = "cake"
    POWDER = "powder"
    CHOCOLATE = "chocolate"
    COUVERTURE = "couverture"
    BAR = "bar"
    INGREDIENT = "ingredient"

    @property
    def is_composite(self) -> bool:
        """Whether several ingredients are mixed in it, so that a recipe is needed."""
        return self in {Form.CHOCOLATE, Form.COUVERTURE, Form.BAR}


class ChocolateName(Word):
    """Names that a product may be sold under (CXS 87-1981, Rev. 1-2003, section 2.1)."""

    CHOCOLATE = "chocolate"
    SWEET = "sweet chocolate"
    COUVERTURE = "couverture chocolate"
    MILK = "milk chocolate"
    FAMILY_MILK = "family milk chocolate"
    MILK_COUVERTURE = "milk chocolate couverture"
    WHITE = "white chocolate"


class Custody(Word):
    """Chain-of-custody models, strictest first (ISO 22095:2020, 3.3)."""

    IDENTITY_PRESERVED = "identity preserved"
    SEGREGATED = "segregated"
    CONTROLLED_BLENDING = "controlled blending"
    MASS_BALANCE = "mass balance"

    def may_step_down_to(self, other: Custody) -> bool:
        """Tell whether goods received under this model may be sold under `other`."""
        strictness = list(Custody)
        return strictness.index(self) <= strictness.index(other)


class Delivery(Word):
    """Delivery terms (Incoterms 2020, by their three letters)."""

    EXW = "EXW"
    FCA = "FCA"
    FAS = "FAS"
    FOB = "FOB"
    CFR = "CFR"
    CIF = "CIF"
    CPT = "CPT"
    CIP = "CIP"
    DAP = "DAP"
    DPU = "DPU"
    DDP = "DDP"


class WeightBasis(Word):
    """Which weighing settles a contract."""

    SHIPPED = "shipped"
    LANDED = "landed"


class PartyRole(Word):
    """What a party is to the maker."""

    COOPERATIVE = "grower cooperative"
    SUPPLIER = "supplier"
    CUSTOMER = "customer"
    CERTIFIER = "certifier"
    PAYEE = "payee"


class Step(Word):
    """A step of making: every batch is one of these."""

    CLEAN = "clean"
    ROAST = "roast"
    WINNOW = "winnow"
    GRIND = "grind"
    PRESS = "press"
    MIX = "mix"
    REFINE = "refine"
    CONCHE = "conche"
    TANK = "tank"
    TEMPER = "temper"
    MOULD = "mould"
    WRAP = "wrap"
    PACK = "pack"
    SPLIT = "split"


class LossReason(Word):
    """Why mass that went into a batch did not come out of it."""

    MOISTURE = "moisture"
    SHELL = "shell"
    SIEVINGS = "sievings"
    FOREIGN_MATTER = "foreign matter"
    DUST = "dust"
    HOLD_UP = "machine hold-up"
    SAMPLE = "sample"
    SPILLAGE = "spillage"
    WASTE = "waste"


class Duty(Word):
    """What a payment to growers is for.

    An advance is paid before goods arrive and is set off against their price, so it is
    paid but never owed by itself.
    """

    PRICE = "price"
    SEASONAL = "seasonal differential"
    ORGANIC = "organic differential"
    PREMIUM = "premium"
    INTEREST = "interest"
    ADVANCE = "advance"


class Governing(Word):
    """The date that picks the row of a dated table."""

    CONTRACT = "contract"
    FIXATION = "fixation"
    SHIPMENT = "shipment"
    DELIVERY = "delivery"
