"""What the maker makes, and what it thinks is usual in making it."""

from dataclasses import dataclass
from fractions import Fraction

from sample_shipments.generator.paper import File, Tree, yaml_file
from sample_shipments.generator.scheme import FACTORS_IN_HUNDREDTHS


@dataclass(frozen=True, slots=True)
class Product:
    """One thing the maker sells.

    Attributes:
        code: Short name; also the name of its recipe and the start of its lot numbers.
        name: What it is called.
        form: Form in which it is sold.
        parts: Per cent of each ingredient by mass.
        tank: Holding tank it waits in.
        organic: Whether all of it is organic.
        unit_g: Mass of one bar, block or bag.
        case: Units in what a customer orders one of.
        pence: Price of one unit, in pence or euro cents.
        gtin: Trade item number, from the prefix that GS1 keeps for examples.
    """

    code: str
    name: str
    form: str
    parts: dict[str, int]
    tank: str
    organic: bool
    unit_g: int
    case: int
    pence: int
    gtin: str

    @property
    def beans_per_gram(self) -> Fraction:
        """Bean equivalent of one gram."""
        hundredths = sum(
            percent * FACTORS_IN_HUNDREDTHS[part]
            for part, percent in self.parts.items()
            if part in FACTORS_IN_HUNDREDTHS
        )
        return Fraction(hundredths, 10000)


PRODUCTS = {
    product.code: product
    for product in (
        Product(
            "D70",
            "Ropewalk Dark 70 %, bar of 70 g",
            "bar",
            {"liquor": 64, "butter": 6, "sugar": 30},
            "T1",
            organic=False,
            unit_g=70,
            case=30,
            pence=215,
            gtin="9521234000709",
        ),
        Product(
            "C66",
            "Ropewalk Couverture 66 %, block of 5 kg",
            "couverture",
            {"liquor": 58, "butter": 8, "sugar": 34},
            "T2",
            organic=False,
            unit_g=5000,
            case=1,
            pence=7150,
            gtin="9521234000662",
        ),
        Product(
            "O72",
            "Ropewalk Organic 72 %, bar of 70 g",
            "bar",
            {"liquor": 72, "sugar": 28},
            "T3",
            organic=True,
            unit_g=70,
            case=30,
            pence=255,
            gtin="9521234000723",
        ),
        Product(
            "M45",
            "Ropewalk Milk 45 %, bar of 70 g",
            "bar",
            {"liquor": 30, "butter": 15, "sugar": 35, "milk": 20},
            "T4",
            organic=False,
            unit_g=70,
            case=30,
            pence=205,
            gtin="9521234000457",
        ),
        Product(
            "NIB",
            "Roasted nibs, bag of 500 g",
            "nib",
            {"nib": 100},
            "",
            organic=False,
            unit_g=500,
            case=1,
            pence=850,
            gtin="9521234000501",
        ),
    )
}

_FORM_OF = {"liquor": "liquor", "butter": "butter", "sugar": "ingredient"}
_COMMODITY_OF = {"liquor": "cocoa", "butter": "cocoa", "sugar": "sugar", "milk": "milk"}
_COMMON = "common practice, no source"
_LIMITS = (  # step, measure, lowest, highest, how the trade says it
    ("conche", "hours", "11", "72", "11 to 72 hours"),
    ("conche", "tasting interval hours", "4", "6", "sampled every 4 to 6 hours"),
    ("temper", "entry temperature c", "48.9", "54.4", "about 125 F: 120 to 130 F"),
    ("temper", "exit temperature c", "30", "33.9", "about 90 F: 86 to 93 F"),
    ("temper", "carried kg", "4.536", "9.072", "10 to 20 lb at a time"),
    ("temper", "cooling minutes", "7", "12", "about 9 minutes"),
    ("temper", "racking minutes", "30", "60", "about 40 minutes"),
    ("wrap", "pieces per minute", "100", "150", "about 130 bars a minute"),
    ("roast", "yield percent", "94", "99", "1 to 6 per cent lost"),
    ("winnow", "yield percent", "75", "83", "17 to 25 per cent lost"),
)


def files() -> list[File]:
    """Return the maker's limits and its recipes."""
    limits: dict[str, Tree] = {
        "kind": "limits.published",
        "on": "2024-10-01",
        "version": "usual-2024",
        "valid_from": "2024-10-01",
        "limits": [
            {
                "step": step,
                "measure": measure,
                "lowest": lowest,
                "highest": highest,
                "source": f"{said} ({_COMMON})",
            }
            for step, measure, lowest, highest, said in _LIMITS
        ],
    }
    recipes = [_recipe(product) for product in PRODUCTS.values() if product.tank]
    note = "The maker's own list of what is usual. A batch outside it is flagged."
    return [
        yaml_file("00-start/6-limits.yaml", [limits], note=note),
        yaml_file("00-start/7-recipes.yaml", recipes),
    ]


def _recipe(product: Product) -> dict[str, Tree]:
    cocoa = sum(product.parts.get(part, 0) for part in ("liquor", "butter"))
    is_milk = "milk" in product.parts
    return {
        "kind": "recipe.published",
        "on": "2024-10-01",
        "recipe": product.code,
        "product": product.name,
        "valid_from": "2024-10-01",
        "ingredients": [
            {
                "commodity": _COMMODITY_OF[part],
                "form": _FORM_OF.get(part, "ingredient"),
                "share": f"0.{percent:02d}",
                "organic": "true" if product.organic else "false",
            }
            for part, percent in product.parts.items()
        ],
        "label_cocoa_percent": str(cocoa),
        "allergens": ["milk"] if is_milk else ["may contain milk"],
        "gtin": product.gtin,
    }
