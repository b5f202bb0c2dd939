"""ledger.trade.unit: typed units are converted exactly, against NIST SP 811.

SP 811 is NIST Special Publication 811, Guide for the Use of the International System of
Units, 2008 edition, appendix B.9, which prints factors to seven significant digits.
"""

import subprocess
import sys
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import InputError
from ledger.trade.unit import kilograms_in, parse_mass, parse_temperature

POUND = Fraction(45359237, 10**8)
"""SP 811, note 22: the avoirdupois pound is exactly 0.453 592 37 kg."""


@pytest.mark.parametrize(
    ("unit", "printed"),
    [
        ("lb", "4.535924E-01"),  # pound (avoirdupois)
        ("oz", "2.834952E-02"),  # ounce (avoirdupois)
        ("short_ton", "9.071847E+02"),  # ton, short (2000 lb)
        ("long_ton", "1.016047E+03"),  # ton, long (2240 lb)
        ("t", "1.000000E+03"),  # tonne, called metric ton in the U.S.
    ],
)
def test_factors_agree_with_the_printed_table(unit: str, printed: str) -> None:
    """SP 811, appendix B.9, "Mass and Moment of Inertia"."""
    factor = kilograms_in(unit)

    with localcontext(prec=7):
        assert Decimal(printed) == Decimal(factor.numerator) / factor.denominator


@pytest.mark.parametrize(
    ("unit", "kilograms"),
    [
        ("lb", POUND),
        ("oz", POUND / 16),
        ("short_ton", POUND * 2000),
        ("long_ton", POUND * 2240),
        ("metric ton", Fraction(1000)),
        ("kg", Fraction(1)),
        ("g", Fraction(1, 1000)),
        # Common practice in Latin America: 46 kg, as in "Measuring Up",
        # whencoffeespeaks.com, 2012-10-26, for coffee.
        ("qq46", Fraction(46)),
    ],
)
def test_factors_are_exact(unit: str, kilograms: Fraction) -> None:
    """SP 811, note 22; 16 oz, 2000 lb and 2240 lb by the names in appendix B.9."""
    assert kilograms == kilograms_in(unit)


@pytest.mark.parametrize(
    ("text", "kilograms"),
    [
        ("27557.8 lb", "12500.008"),  # 27557.8 * 0.45359237 = 12500.00781...
        ("12.5 t", "12500.000"),
        ("3 qq46", "138.000"),
        ("3 quintals of 46 kg", "138.000"),
        ("1 quintal of 46 kg", "46.000"),
        ("2 quintals of 100 lb", "90.718"),
        ("250 oz", "7.087"),
        ("10 short_ton", "9071.847"),
        ("10 short ton", "9071.847"),
        ("2 long tons", "2032.094"),
        ("1.5 metric ton", "1500.000"),
        ("25 MT", "25000.000"),
        ("185 bags of 68.95 kg", "12755.750"),
        ("40 bags of 152 lb", "2757.842"),
        ("1 bag of 60 kg", "60.000"),
        ("1250 kg", "1250.000"),
        ("1250kg", "1250.000"),
        ("  1250   kg ", "1250.000"),
        ("900 g", "0.900"),
        ("0 kg", "0.000"),
        ("1000000 t", "1000000000.000"),
    ],
)
def test_typed_masses_are_converted(text: str, kilograms: str) -> None:
    mass = parse_mass(text)

    assert kilograms == str(mass)


@pytest.mark.parametrize(
    ("text", "kilograms"), [("0.5 g", "0.000"), ("1.5 g", "0.002"), ("2.5 g", "0.002")]
)
def test_halves_of_a_gram_go_to_the_even_gram(text: str, kilograms: str) -> None:
    assert kilograms == str(parse_mass(text))


@pytest.mark.parametrize(
    ("text", "because"),
    [
        ("3 quintals", 'write "quintals of 46 kg" (short: "qq46")'),
        ("3 qq", "46 kg in the coffee and cocoa trade"),
        ("3 ton", "907 kg, 1000 kg or 1016 kg"),
        ("3 cwt", "100 lb or 112 lb"),
        ("3 stone", "not a unit of mass known here; use kg"),
        ("3 metre", "not a unit of mass known here"),
        ("3", "write a number and a unit"),
        ("kg", "write a number and a unit"),
        ("-3 kg", "write a number and a unit"),
        ("27,557.8 lb", "thousands separators"),
        ("1e3 kg", "write a number and a unit"),
        ("3.5 bags of 60 kg", "write a number and a unit"),
        ("2 bags of 2 bags of 1 kg", "write a number and a unit"),
        ("3 bags", "not a unit of mass known here"),
        ("1000000.0001 t", "more than 1000000000 kg"),
        ("", "write a number and a unit"),
    ],
)
def test_unclear_masses_are_refused_with_a_way_out(text: str, because: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_mass(text)

    assert because in str(refusal.value)


@given(st.decimals(0, 10**6, places=4))
def test_pounds_are_converted_exactly_and_rounded_once(pounds: Decimal) -> None:
    grams = parse_mass(f"{pounds:f} lb") * 1000

    assert round(Fraction(pounds) * POUND * 1000) == grams


@given(st.integers(1, 10**4), st.decimals(0, 1000, places=2))
def test_bags_weigh_their_number_times_one_bag(count: int, each: Decimal) -> None:
    mass = parse_mass(f"{count} bags of {each:f} lb")

    assert round(count * Fraction(each) * POUND * 1000) == mass * 1000


@given(st.text() | st.from_regex(r"[0-9]+\.?[0-9]* ?[a-z °]+", fullmatch=True))
def test_only_our_own_error_leaves_the_parsers(text: str) -> None:
    for parser in (parse_mass, parse_temperature):
        try:
            figure = parser(text)
        except InputError:
            continue
        assert figure.is_finite()


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("32 F", "0.0"),
        ("212 F", "100.0"),
        ("-40 F", "-40.0"),
        ("257 F", "125.0"),
        ("257 °F", "125.0"),
        ("257 deg F", "125.0"),
        ("100F", "37.8"),
        ("125 C", "125.0"),
        ("31.45 °C", "31.4"),
        ("31.55 c", "31.6"),
        ("752 F", "400.0"),
        ("-58 F", "-50.0"),
    ],
)
def test_typed_temperatures_are_converted(text: str, celsius: str) -> None:
    """SP 811, appendix B.9, "Temperature": t/°C = (t/°F - 32)/1.8."""
    degrees = parse_temperature(text)

    assert celsius == str(degrees)


@given(st.decimals(-58, 752, places=2))
def test_fahrenheit_is_converted_exactly_and_rounded_once(degrees: Decimal) -> None:
    """SP 811, appendix B.9, "Temperature": t/°C = (t/°F - 32)/1.8."""
    tenths = parse_temperature(f"{degrees:f} F") * 10

    assert round((Fraction(degrees) - 32) * 10 / Fraction("1.8")) == tenths


@pytest.mark.parametrize(
    ("text", "because"),
    [
        ("257", "write a number and C or F"),
        ("257 K", "write a number and C or F"),
        ("hot", "write a number and C or F"),
        ("-58.1 F", "outside -50 to 400 °C"),
        ("752.1 F", "outside -50 to 400 °C"),
        ("9999 C", "outside -50 to 400 °C"),
    ],
)
def test_unclear_temperatures_are_refused_with_a_way_out(
    text: str, because: str
) -> None:
    with pytest.raises(InputError, match=because):
        parse_temperature(text)


def test_no_library_of_units_or_codes_is_loaded_before_it_is_needed() -> None:
    program = """
import sys
import ledger.trade.codes, ledger.trade.money
from ledger.trade.unit import parse_mass
parse_mass("12.5 t")
print(sorted({"pint", "pycountry", "stdnum"} & set(sys.modules)))
"""
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )

    assert run.stdout.strip() == "[]"
