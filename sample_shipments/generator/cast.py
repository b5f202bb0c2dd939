"""Who appears: the maker, its cooperatives, suppliers and customers. All invented."""

from dataclasses import dataclass

from sample_shipments.generator.paper import File, Tree, csv_file, yaml_file
from sample_shipments.generator.workday import FIRST

MAKER = "wrenlock"
SITE = "ropewalk"
OFFICER = "officer-1"

QUIRIMAYO = "quirimayo"
CAHOBA = "cahoba"
VATULANI = "vatulani"
FUND = "osierfold-growers-fund"
INGREDIENTS = "orrin-ingredients"
CERTIFIER = "ostrel"


@dataclass(frozen=True, slots=True)
class Customer:
    """A customer, what it usually buys, and how often.

    Attributes:
        party: Short name.
        legal_name: Name on invoices.
        town: Its postal address, after the name.
        country: ISO 3166-1 alpha-2 code.
        usual: Products it orders, with the number of cases, blocks or bags each time.
        every_days: Days between two orders.
        claims: Whether it sells on the claim, and so buys with it.
        currency: What it is invoiced in.
    """

    party: str
    legal_name: str
    town: str
    country: str
    usual: dict[str, int]
    every_days: int
    claims: bool = True
    currency: str = "GBP"


CUSTOMERS = (
    Customer(
        "cust-01",
        "Ostlemere Farm Shop Ltd",
        "3 Byre Lane, Ostlemere",
        "GB",
        {"D70": 26, "O72": 14},
        23,
    ),
    Customer(
        "cust-02",
        "Tarnholt Station Kiosk",
        "Platform 2, Tarnholt",
        "GB",
        {"D70": 20, "M45": 20},
        26,
    ),
    Customer(
        "cust-03",
        "Pellwick Museum Shop",
        "1 Gallery Steps, Pellwick",
        "GB",
        {"D70": 22, "O72": 12},
        31,
    ),
    Customer(
        "cust-04",
        "Dapplefold Wholefoods Ltd",
        "77 Linnet Street, Dapplefold",
        "GB",
        {"D70": 38, "O72": 24, "NIB": 16},
        27,
    ),
    Customer(
        "cust-05",
        "Nettlewyke Hampers Ltd",
        "Unit 9, Nettlewyke Yard",
        "GB",
        {"D70": 60, "O72": 20, "M45": 24},
        41,
    ),
    Customer(
        "cust-06",
        "Gullhaven Ferry Catering",
        "Quay Road, Gullhaven",
        "GB",
        {"D70": 46, "M45": 30},
        33,
    ),
    Customer(
        "cust-07",
        "Inkersby Books and Coffee",
        "12 Almoner Row, Inkersby",
        "GB",
        {"D70": 16, "O72": 10},
        24,
    ),
    Customer(
        "cust-08",
        "Sorrelgate Refill Shop",
        "40 Sorrelgate, Brackenferry",
        "GB",
        {"D70": 18, "NIB": 12},
        29,
    ),
    Customer(
        "cust-09",
        "Quenbridge Patisserie Ltd",
        "5 Mill Hithe, Quenbridge",
        "GB",
        {"C66": 24},
        25,
    ),
    Customer(
        "cust-10",
        "Lanternfold Ice Cream Ltd",
        "Dairy Lane, Lanternfold",
        "GB",
        {"C66": 30},
        32,
    ),
    Customer(
        "cust-11",
        "Tolvern Road Bakery",
        "118 Tolvern Road, Brackenferry",
        "GB",
        {"C66": 14},
        22,
        claims=False,
    ),
    Customer(
        "cust-12",
        "Fennimoor Hotels Ltd",
        "The Carriage House, Fennimoor",
        "GB",
        {"C66": 16, "D70": 20},
        36,
    ),
    Customer(
        "cust-13",
        "Feinkost Lindenhagen GmbH",
        "Torgasse 4, Lindenhagen",
        "DE",
        {"D70": 48, "O72": 36},
        38,
        currency="EUR",
    ),
    Customer(
        "cust-14",
        "Epicerie du Pont-Saulnoy SARL",
        "2 quai des Salins, Pont-Saulnoy",
        "FR",
        {"D70": 30, "C66": 18},
        39,
        currency="EUR",
    ),
    Customer(
        "cust-15",
        "Maltkiln Lane Brewery",
        "Maltkiln Lane, Tarnholt",
        "GB",
        {"NIB": 30},
        70,
        claims=False,
    ),
)

_OPENING: dict[str, Tree] = {
    "kind": "ledger.opened",
    "on": str(FIRST),
    "format_version": "1",
    "organisation": MAKER,
    "organisation_name": "Wrenlock Chocolate Works Ltd",
    "sites": [
        {
            "site": SITE,
            "place": "The Old Ropewalk, Brackenferry",
            "country": "GB",
            "gln": "9521234000013",
        }
    ],
}


def _party(party: str, role: str, country: str, **more: Tree) -> dict[str, Tree]:
    return {
        "kind": "party.registered",
        "on": str(FIRST),
        "party": party,
        "roles": [role],
        "country": country,
        **more,
    }


_GROWERS_AND_OTHERS = (
    _party(
        QUIRIMAYO,
        "grower cooperative",
        "PE",
        legal_name="Cooperativa Agraria Cacaotera Quirimayo Ltda.",
        address="Km 14, valle del Quirimayo, Peru",
        contacts=[
            {"person": "Oficina de exportaciones", "email": "export@quirimayo.example"}
        ],
        registered_farmers="412",
    ),
    _party(
        CAHOBA,
        "grower cooperative",
        "DO",
        legal_name="Cooperativa de Cacaoteros Serranía Cahoba",
        address="Camino del Medio 8, Loma Cahoba, Dominican Republic",
        contacts=[{"person": "Departamento comercial", "phone": "+1 809 555 0146"}],
        registered_farmers="268",
    ),
    _party(
        VATULANI,
        "grower cooperative",
        "SB",
        legal_name="Vatulani Cocoa Growers Association",
        address="Wharf Road, Vatulani Landing, Solomon Islands",
        contacts=[{"person": "Export desk", "email": "desk@vatulani.example"}],
        registered_farmers="151",
    ),
    _party(FUND, "payee", "CH", legal_name="Osierfold Growers Fund"),
    _party(
        INGREDIENTS,
        "supplier",
        "GB",
        legal_name="Orrin Vale Ingredients Ltd",
        address="Shed 4, Orrin Vale Trading Estate",
        contacts=[{"person": "Order desk", "phone": "+44 1632 960147"}],
    ),
    _party(CERTIFIER, "certifier", "GB", legal_name="Ostrel Verification Ltd"),
)


def _certificate(
    certificate: str, holder: str, number: str, valid: str, *, organic: bool = False
) -> dict[str, Tree]:
    valid_from, valid_until = valid.split()
    return {
        "kind": "certificate.recorded",
        "on": max(valid_from, str(FIRST)),
        "certificate": certificate,
        "holder": holder,
        "scheme": "osierfold",
        "number": number,
        "issued_by": "Ostrel Verification Ltd",
        "valid_from": valid_from,
        "valid_until": valid_until,
        "organic": "true" if organic else "false",
    }


def files() -> list[File]:
    """Return the files that open the ledger and introduce everybody."""
    certificates = [
        _certificate(
            "own-2024", MAKER, "OF-M-0311/2", "2024-07-01 2027-06-30", organic=True
        ),
        _certificate("pe-2024", QUIRIMAYO, "OF-G-1108", "2024-03-01 2027-02-28"),
        _certificate(
            "do-2023", CAHOBA, "OF-G-0874", "2023-05-01 2027-04-30", organic=True
        ),
        _certificate("sb-2022", VATULANI, "OF-G-0692", "2022-09-01 2025-08-31"),
    ]
    renewed = _certificate("sb-2025", VATULANI, "OF-G-0692/R", "2025-11-17 2028-11-16")
    return [
        yaml_file(
            "00-start/1-opening.yaml",
            [_OPENING],
            note="Everything in this folder is invented; see README.md.",
        ),
        yaml_file("00-start/2-growers-and-suppliers.yaml", _GROWERS_AND_OTHERS),
        _customers(),
        yaml_file("00-start/4-certificates.yaml", certificates),
        yaml_file("2025-12/2-buying/10-certificate-sb-2025.yaml", [renewed]),
    ]


def _customers() -> File:
    rows = [
        {
            "on": str(FIRST),
            "party": customer.party,
            "roles": "customer",
            "country": customer.country,
            "legal_name": customer.legal_name,
            "address": customer.town,
        }
        for customer in CUSTOMERS
    ]
    names = [customer.party for customer in CUSTOMERS]
    return csv_file("00-start/3-customers/parties.csv", rows, names=names)
