"""Text to SI and back, against published conversion factors and against what must be refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonhearth.studies.asking.quantity import (
    QuantityError,
    display_unit,
    parse,
    parse_clock,
    show,
    show_clock,
    si_unit,
    to_unit,
)
from noonhearth.studies.asking.units import DIMENSIONS

# NIST Special Publication 811 (2008), appendix B.8 and B.9: the printed factors, kept as printed (from
# memory; those in bold there are exact). The printed digits set the tolerance.
NIST_811 = [
    ("1 in", "length", "2.54 E-02"),
    ("1 ft", "length", "3.048 E-01"),
    ("1 in2", "area", "6.4516 E-04"),
    ("1 ft2", "area", "9.290304 E-02"),
    ("1 qt", "volume", "9.463529 E-04"),
    ("1 lb", "mass", "4.535924 E-01"),
    ("1 oz", "mass", "2.834952 E-02"),
    ("1 mph", "speed", "4.4704 E-01"),
    ("1 km/h", "speed", "2.777778 E-01"),
    ("1 in/min", "speed", "4.233333 E-04"),
    ("1 rpm", "angular_speed", "1.047198 E-01"),
    ("1 lbf", "force", "4.448222 E+00"),
    ("1 psi", "pressure", "6.894757 E+03"),
    ("1 Btu", "energy", "1.055056 E+03"),
    ("1 Wh", "energy", "3.6 E+03"),
    ("1 Btu/h", "power", "2.930711 E-01"),
    ("1 Btu in/(h ft2 F)", "conductivity", "1.442279 E-01"),
    ("1 Btu/(h ft2 F)", "conductance", "5.678263 E+00"),
    ("1 lb/ft3", "density", "1.601846 E+01"),
    ("1 lb/ft2", "areal_density", "4.882428 E+00"),
    ("1 deg", "angle", "1.745329 E-02"),
    ("1 arcmin", "angle", "2.908882 E-04"),
]


def _half_last_digit(printed: str) -> float:
    mantissa, exponent = printed.split(" E")
    return 0.5000001 * 10.0 ** (int(exponent) - len(mantissa.partition(".")[2]))


@pytest.mark.parametrize(("text", "dimension", "printed"), NIST_811)
def test_conversion_factors_are_the_published_ones(text: str, dimension: str, printed: str) -> None:
    assert abs(parse(text, dimension) - float(printed.replace(" ", ""))) <= _half_last_digit(printed)


# Fixed points of the scales, exact by definition.
@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("0 degC", 273.15),
        ("32 degF", 273.15),
        ("212 °F", 373.15),
        ("-40 degF", 233.15),
        ("-40 C", 233.15),
        ("0 K", 0),
    ],
)
def test_temperature_scales_meet_at_their_fixed_points(text: str, kelvin: float) -> None:
    assert parse(text, "temperature") == pytest.approx(kelvin, abs=1e-10)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("1/2 in", 0.5),
        ("1 1/2 in", 1.5),
        ("1-1/2in", 1.5),
        ("1½ in", 1.5),
        ("¾ in", 0.75),
        ('24"', 24.0),
        ("2 ft", 24.0),
        ("-3/8 in", -0.375),
        ("−1 1/4 in", -1.25),
        (".5 in", 0.5),
        ("5e-1 inches", 0.5),
        ("  12   in ", 12.0),
    ],
)
def test_ways_of_writing_inches(text: str, inches: float) -> None:
    assert parse(text, "length") == pytest.approx(inches * 0.0254, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("50 %", "share", 0.5),
        ("0.85", "share", 0.85),
        (0.85, "share", 0.85),
        (8, "count", 8.0),
        (12.5, "money", 12.5),
        ("16 1/m", "extinction", 16.0),
        ("900 W/m²", "irradiance", 900.0),
        ("0.04 W/(m·K)", "conductivity", 0.04),
        ("5 µm", "length", 5e-6),
        ("5.5 kWh/m2", "irradiation", 19.8e6),
        ("18 K", "temperature_difference", 18.0),
    ],
)
def test_other_spellings(text: str | float, dimension: str, value: float) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "dimension", "sentence"),
    [
        ("38", "angle", '"38" has no unit; an angle is needed, e.g. "38 deg"'),
        (38.0, "angle", '"38.0" has no unit; an angle is needed, e.g. "38 deg"'),
        ("38 kg", "angle", '"38 kg" is a mass; an angle is needed, e.g. "38 deg"'),
        (
            "38 dge",
            "angle",
            '"38 dge": unknown unit "dge"; did you mean "deg"? an angle is written in deg, rad, mrad, arcmin',
        ),
        ("38 Deg", "angle", 'did you mean "deg"?'),
        ("5 kilo", "angle", 'unknown unit "kilo"; an angle is written'),
        ("nan deg", "angle", '"nan deg" is not a finite number'),
        ("-inf deg", "angle", '"-inf deg" is not a finite number'),
        ("1e999 m", "length", "not a finite number"),
        ("1,5 m", "length", "write a decimal point"),
        ("1/0 in", "length", "divides by zero"),
        ("in", "length", "does not start with a number"),
        ("", "length", "does not start with a number"),
        ("1.2.3 m", "length", "does not start with a number"),
        ("10 degC", "temperature_difference", '"10 degC" is a temperature; a temperature difference is needed: '),
        ("10 degC", "temperature_difference", 'write "10 K"'),
        ("18 degF", "temperature_difference", 'write "10 K"'),
        (True, "share", "is not text"),
        (None, "mass", 'None is not text; a mass is needed, e.g. "3 kg"'),
        ([1], "mass", "is not text"),
    ],
)  # fmt: skip
def test_refusals_say_what_is_wrong_and_what_is_needed(text: object, dimension: str, sentence: str) -> None:
    with pytest.raises(QuantityError) as refusal:
        parse(text, dimension)  # type: ignore[arg-type]
    assert sentence in str(refusal.value)


def test_every_dimension_takes_its_own_example_and_its_si_unit() -> None:
    for name, dimension in DIMENSIONS.items():
        assert math.isfinite(parse(dimension.example, name))
        assert parse(f"1 {dimension.si}", name) == 1.0, name  # the stored unit is itself a unit, of scale one


def test_no_spelling_means_two_units_of_one_dimension() -> None:
    for name, dimension in DIMENSIONS.items():
        spelled = [text for unit in dimension.units for text in (unit.name, *unit.aliases)]
        assert len(spelled) == len(set(spelled)), name


def test_every_shown_unit_is_a_known_unit() -> None:
    for name, dimension in DIMENSIONS.items():
        for limit, unit in (*dimension.metric, *dimension.inch):
            assert dimension.find(unit) is not None, (name, unit)
            assert limit > 0.0


@pytest.mark.parametrize(
    ("value", "dimension", "system", "text"),
    [
        (0.6632251157578453, "angle", "metric", "38 deg"),
        (0.6096, "length", "metric", "609.6 mm"),
        (0.6096, "length", "inch", "24 in"),
        (0.0381, "length", "inch", "1 1/2 in"),
        (-0.0127, "length", "inch", "-1/2 in"),
        (0.1, "length", "inch", "3.937 in"),
        (1450.0, "length", "metric", "1450 m"),
        (398.15, "temperature", "metric", "125 degC"),
        (398.15, "temperature", "inch", "257 degF"),
        (273.15, "temperature", "metric", "0 degC"),
        (1200.0, "time", "metric", "20 min"),
        (45.0, "time", "metric", "45 s"),
        (14400.0, "time", "metric", "4 h"),
        (0.5, "share", "metric", "50 %"),
        (12.5, "money", "metric", "12.5"),
        (123456.0, "pressure", "metric", "1235 hPa"),
        (0.0, "length", "metric", "0 mm"),
        (-1e-9, "temperature_difference", "metric", "-0.000000001 K"),
    ],
)
def test_shown_as_a_builder_reads_it(value: float, dimension: str, system: str, text: str) -> None:
    assert show(value, dimension, system) == text  # type: ignore[arg-type]


@given(
    value=st.floats(min_value=1e-3, max_value=1e6),
    dimension=st.sampled_from(sorted(DIMENSIONS)),
    system=st.sampled_from(["metric", "inch"]),
)
def test_shown_text_parses_back_to_its_printed_digits(value: float, dimension: str, system: str) -> None:
    back = parse(show(value, dimension, system), dimension)  # type: ignore[arg-type]
    assert back == pytest.approx(value, rel=0.51e-3)  # four significant digits


def test_nothing_is_shown_for_what_is_not_a_number() -> None:
    with pytest.raises(QuantityError, match="cannot be shown"):
        show(math.nan, "mass")


def test_arrays_change_unit_too() -> None:
    shown = to_unit(np.array([273.15, 373.15]), "degF", "temperature")
    np.testing.assert_allclose(shown, [32.0, 212.0], atol=1e-10)
    with pytest.raises(QuantityError, match='"kg" is not a unit of a temperature'):
        to_unit(1.0, "kg", "temperature")


def test_display_units_follow_the_magnitude() -> None:
    assert [display_unit("time", magnitude=s) for s in (60.0, 600.0, 4e4, 1e6)] == ["s", "min", "h", "d"]
    assert si_unit("conductivity") == "W m-1 K-1"


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("9:30", 34200.0), ("09:30", 34200.0), ("0:00", 0.0), ("16:05:30", 57930.0), ("24:00", 86400.0)],
)
def test_clock_times(text: str, seconds: float) -> None:
    assert parse_clock(text) == seconds


@pytest.mark.parametrize("text", ["9.30", "9:30 am", "25:00", "9:60", "24:01", "9", "", None, 9])
def test_clock_times_refused(text: object) -> None:
    with pytest.raises(QuantityError):
        parse_clock(text)  # type: ignore[arg-type]


def test_clock_round_trip() -> None:
    assert all(
        show_clock(parse_clock(f"{h:02d}:{m:02d}")) == f"{h:02d}:{m:02d}"
        for h in range(24)
        for m in (0, 7, 59)
    )
    with pytest.raises(QuantityError):
        show_clock(-1.0)
