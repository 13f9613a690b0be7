"""Conversion against exact definitions, and there and back."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas import units
from schemas.units import Dimension, System

# NIST Special Publication 811 (2008), appendix B.8, and Handbook 44, appendix C: exact by
# definition, except where the comment says what the figure follows from.
EXACT = [
    ("1 lb", Dimension.MASS, Fraction("0.45359237")),
    ("1 in", Dimension.LENGTH, Fraction("0.0254")),
    ("1 ft", Dimension.LENGTH, Fraction("0.3048")),
    ("1 yd", Dimension.LENGTH, Fraction("0.9144")),
    ("1 mi", Dimension.LENGTH, Fraction("1609.344")),
    ("1 cm", Dimension.LENGTH, Fraction(1, 100)),
    ("1 mm", Dimension.LENGTH, Fraction(1, 1000)),
    ("1 gal", Dimension.VOLUME, Fraction("0.003785411784")),  # 231 in³
    ("1 L", Dimension.VOLUME, Fraction(1, 1000)),
    ("1 mph", Dimension.SPEED, Fraction("0.44704")),  # 1609.344 m in 3600 s
    ("1 km/h", Dimension.SPEED, Fraction(1000, 3600)),
    ("1 kn", Dimension.SPEED, Fraction(1852, 3600)),
    ("1 gal/min", Dimension.FLOW, Fraction("0.003785411784") / 60),
    ("1 L/min", Dimension.FLOW, Fraction(1, 60000)),
    ("1 min", Dimension.TIME, Fraction(60)),
    ("1 h", Dimension.TIME, Fraction(3600)),
    ("32 °F", Dimension.TEMPERATURE, Fraction(0)),
    ("212 °F", Dimension.TEMPERATURE, Fraction(100)),
    ("-40 °F", Dimension.TEMPERATURE, Fraction(-40)),
    ("21 °C", Dimension.TEMPERATURE, Fraction(21)),
    ("50 %", Dimension.PERCENT, Fraction(1, 2)),
]


@pytest.mark.parametrize(("text", "dimension", "inside"), EXACT)
def test_units_have_their_exact_size(text: str, dimension: Dimension, inside: Fraction) -> None:
    assert units.parse(text, dimension) == inside


def test_a_straight_angle_is_pi() -> None:
    assert float(units.parse("180°", Dimension.ANGLE)) == math.pi


def test_a_gallon_is_231_cubic_inches() -> None:
    inch = units.parse("1 in", Dimension.LENGTH)
    assert units.parse("1 US gal", Dimension.VOLUME) == 231 * inch**3


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("180 lb", Dimension.MASS),
        ("180lb", Dimension.MASS),
        (" 180  LB ", Dimension.MASS),
        ("180. pounds", Dimension.MASS),
        ("+1.8e2 lbs", Dimension.MASS),
        (".5 kg", Dimension.MASS),
        ("11.2 mph", Dimension.SPEED),
        ("120 gal", Dimension.VOLUME),
        ("120 US gal", Dimension.VOLUME),
        ("70 °F", Dimension.TEMPERATURE),
        ("70F", Dimension.TEMPERATURE),
        ("-1.5°C", Dimension.TEMPERATURE),
        ("80%", Dimension.PERCENT),
        ("20 US gal/min", Dimension.FLOW),
    ],
)
def test_spellings_people_use_are_read(text: str, dimension: Dimension) -> None:
    number = float("".join(character for character in text if character in "+-.0123456789e"))
    # Nothing here is written in another unit than the first or second of its dimension.
    assert float(units.parse(text, dimension)) in {
        float(units.read(number, dimension, system)) for system in System
    }


@pytest.mark.parametrize(
    ("value", "dimension"),
    [
        ("2.5", Dimension.MASS),
        ("", Dimension.MASS),
        ("kg", Dimension.MASS),
        ("82 kg", Dimension.SPEED),
        ("82 stone", Dimension.MASS),
        ("1,5 kg", Dimension.MASS),
        ("1 500 kg", Dimension.MASS),
        ("5 ft 6 in", Dimension.LENGTH),
        ("nan kg", Dimension.MASS),
        ("inf kg", Dimension.MASS),
        ("1e5", Dimension.MASS),
        ("0x10 kg", Dimension.MASS),
        ("٨٢ kg", Dimension.MASS),  # digits, but not those of JSON
        ("80 kg*2", Dimension.MASS),
        ("80 kg\n80 kg", Dimension.MASS),
        ("2**99 kg", Dimension.MASS),
        ("1" * 41 + " kg", Dimension.MASS),
        ("1e999 kg", Dimension.MASS),
        (True, Dimension.MASS),
        (None, Dimension.MASS),
        ([80], Dimension.MASS),
        ({"kg": 80}, Dimension.MASS),
        (math.nan, Dimension.MASS),
        (math.inf, Dimension.MASS),
        (-math.inf, Dimension.MASS),
    ],
)
def test_anything_else_is_refused(value: object, dimension: Dimension) -> None:
    with pytest.raises(units.UnknownQuantityError):
        units.read(value, dimension, System.METRIC)


DIMENSIONS = st.sampled_from(Dimension)
SYSTEMS = st.sampled_from(System)
# Nothing aboard is a millionth of a millimetre; below that doubles lose digits.
ORDINARY = st.just(0.0) | st.floats(1e-9, 1e6) | st.floats(-1e6, -1e-9)


@given(ORDINARY, DIMENSIONS, SYSTEMS)
def test_what_is_read_is_written_again(
    written: float, dimension: Dimension, system: System
) -> None:
    inside = float(units.read(written, dimension, system))
    # One rounding inside; by its size on the Fahrenheit scale a number near 0 °F keeps fewer
    # digits than it has.
    assert units.express(inside, dimension, system) == pytest.approx(
        written, rel=4e-16, abs=1e-13 if dimension is Dimension.TEMPERATURE else 0.0
    )


@given(ORDINARY, DIMENSIONS)
def test_a_text_with_the_system_s_unit_is_the_plain_number(
    written: float, dimension: Dimension
) -> None:
    for system in System:
        text = f"{written!r} {units.unit_name(dimension, system)}"
        assert units.read(text, dimension, System.METRIC) == units.read(written, dimension, system)


@given(st.integers(-(10**6), 10**6), st.integers(0, 4), DIMENSIONS)
def test_metric_decimals_survive_unchanged(digits: int, places: int, dimension: Dimension) -> None:
    written = digits / 10**places
    inside = float(units.read(written, dimension, System.METRIC))
    assert round(units.express(inside, dimension, System.METRIC), 9) == round(written, 9)


def test_minus_zero_is_zero() -> None:
    for system in System:
        assert math.copysign(1, float(units.read(-0.0, Dimension.LENGTH, system))) == 1.0
        assert math.copysign(1, units.express(-0.0, Dimension.LENGTH, system)) == 1.0


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_answer_carries_what_is_not_finite(value: float) -> None:
    with pytest.raises((ValueError, OverflowError)):
        units.express(value, Dimension.MASS, System.METRIC)


def test_the_units_object_names_every_unit() -> None:
    assert units.unit_names(System.METRIC) == {
        "mass": "kg",
        "length": "m",
        "volume": "L",
        "speed": "km/h",
        "temperature": "°C",
        "time": "min",
        "flow": "L/min",
        "percentage": "%",
        "angle": "°",
    }
    assert units.unit_names(System.US) == {
        "mass": "lb",
        "length": "ft",
        "volume": "US gal",
        "speed": "mph",
        "temperature": "°F",
        "time": "min",
        "flow": "US gal/min",
        "percentage": "%",
        "angle": "°",
    }


def test_the_system_ends_with_its_block() -> None:
    assert units.current_system() is System.METRIC
    with units.using(System.US), units.using(System.METRIC):
        assert units.current_system() is System.METRIC
    with units.using(System.US):
        assert units.current_system() is System.US
    assert units.current_system() is System.METRIC


@given(
    st.floats(allow_nan=False, allow_infinity=False, min_value=-1e300, max_value=1e300),
    st.sampled_from(Dimension),
    st.sampled_from(System),
)
def test_what_is_written_is_exact_to_the_last_digit(
    inside: float, dimension: Dimension, system: System
) -> None:
    """Against exact fractions, rounded once."""
    exact = units.unit(dimension, system).outward(Fraction(inside))
    assert units.express(inside, dimension, system) == float(exact)
