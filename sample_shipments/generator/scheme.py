"""The invented scheme's terms, in numbers that the rest computes with."""

from sample_shipments.generator.market import USD_MARKET
from sample_shipments.generator.paper import File, Tree, yaml_file

SCHEME = "osierfold"
VERSION = "2024-1"
VALID_FROM = "2023-10-01"
SECOND_ROWS_FROM = "2025-10-01"

MINIMUM_USD = {VALID_FROM: 4300, SECOND_ROWS_FROM: 4700}
ORGANIC_USD = {VALID_FROM: 320, SECOND_ROWS_FROM: 380}
PREMIUM_USD = {VALID_FROM: 250, SECOND_ROWS_FROM: 300}
TO_FUND_PERCENT = {VALID_FROM: 20, SECOND_ROWS_FROM: 30}
PRICE_DUE_DAYS = 30
PREMIUM_DUE_DAYS = 60

FACTORS_IN_HUNDREDTHS = {
    "bean": 100,
    "nib": 125,
    "liquor": 125,
    "butter": 133,
    "powder": 118,
}
_ICCO = (
    "International Cocoa Organization, conversion factors to bean equivalent "
    "(butter 1.33, paste and nib 1.25, powder and cake 1.18)"
)
_TABLE = "Osierfold Accord, price table, edition {0} (invented)"


def in_force(rows: dict[str, int], on: str) -> int:
    """Return the figure of a dated table that governs on a day."""
    return rows[max(valid_from for valid_from in rows if valid_from <= on)]


def terms_file() -> File:
    """Return the scheme's terms as one dated file."""
    entry: dict[str, Tree] = {
        "kind": "terms.published",
        "on": "2024-10-01",
        "scheme": SCHEME,
        "version": VERSION,
        "valid_from": VALID_FROM,
        "source": "Osierfold Accord, trade standard, edition 2024-1 (invented)",
        "custody": ["segregated", "mass balance"],
        "commodities": ["cocoa"],
        "account": {
            "match_origin": "false",
            "match_organic": "true",
            "within_day": "as recorded",
            "credit_weight": "lesser",
        },
        "reconciliation_months": "12",
        "reconciliation_starts": "10",
        "carry_over_periods": "1",
        "conversions": [
            {
                "form": form,
                "factor": f"{hundredths // 100}.{hundredths % 100:02d}",
                "valid_from": VALID_FROM,
                "source": "one kilogram of beans is itself"
                if form == "bean"
                else _ICCO,
            }
            for form, hundredths in FACTORS_IN_HUNDREDTHS.items()
        ],
        "minimum_prices": [
            {**_row(valid_from, usd), "form": "bean", "delivery": "FOB"}
            for valid_from, usd in MINIMUM_USD.items()
        ],
        "market": {"market": USD_MARKET, "fall_back_days": "5"},
        "organic_differentials": [_row(day, usd) for day, usd in ORGANIC_USD.items()],
        "premiums": [
            {
                **_row(valid_from, usd),
                "payees": [
                    {"payee": "seller", "share": _share(100 - to_fund)},
                    {"payee": "osierfold-growers-fund", "share": _share(to_fund)},
                ],
            }
            for (valid_from, usd), to_fund in zip(
                PREMIUM_USD.items(), TO_FUND_PERCENT.values(), strict=True
            )
        ],
        "minimum_governed_by": "contract",
        "market_governed_by": "fixation",
        "premium_governed_by": "delivery",
        "certificate_governed_by": "shipment",
        "price_due": {"days": str(PRICE_DUE_DAYS), "after": "receipt"},
        "premium_due": {"days": str(PREMIUM_DUE_DAYS), "after": "receipt"},
        "retention_years": "5",
    }
    note = "The terms of an invented scheme; only the factors are published ones."
    return yaml_file("00-start/5-terms-osierfold.yaml", [entry], note=note)


def _row(valid_from: str, usd: int) -> dict[str, Tree]:
    return {
        "valid_from": valid_from,
        "price": {"amount": f"{usd}.00", "unit": "USD/t"},
        "source": _TABLE.format(valid_from[:4]),
    }


def _share(percent: int) -> str:
    return f"0.{percent:02d}"
