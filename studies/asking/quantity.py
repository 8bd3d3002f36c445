"""Text with a unit to an SI number and back.

A quantity in a config is text such as "38 deg", "1 1/2 in" or "0.04 W/(m K)". `parse` gives its SI value,
`show` writes it the way a builder reads it. Between the two everything is SI, kelvin and radians.
"""

from __future__ import annotations

import math
import re
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...model import nearest_name
from .units import DIMENSIONS, Dimension, Unit

System = Literal["metric", "inch"]
Numbers = TypeVar("Numbers", float, NDArray[np.float64])

_PLAIN = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(
    rf"(?P<sign>[+-]?)(?:(?:(?P<whole>\d+)(?:\s+|-))?(?P<over>\d+)/(?P<under>\d+)|(?P<plain>{_PLAIN}))"
    r"(?P<unit>|[^\d.,/+\-\s].*|\s+.*)"
)
_CLOCK = re.compile(r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?")
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_TYPOGRAPHY = str.maketrans({"−": "-", "²": "2", "³": "3", "·": " ", "⋅": " ", "µ": "u", "μ": "u"})
_SIXTEENTHS = 16


class QuantityError(ValueError):
    """The text is not the quantity asked for; the message says what would be."""


def parse(text: str | float, dimension: str) -> float:
    """The SI value of a quantity written with its unit. [SI unit of the dimension]

    A bare number, or text without a unit, is accepted only where the unit is 1 (`share`, `count`).

    Parameters
    ----------
    text : str or float
        "38 deg", "1/2 in", "1 1/2 in", "125 degC", "50 %"; a decimal point, never a comma.
    dimension : str
        A key of `units.DIMENSIONS`.

    Raises
    ------
    QuantityError
        No number, no unit, an unknown unit (with the nearest known one), another dimension, not finite.
    """
    wanted = DIMENSIONS[dimension]
    written = _as_text(text, wanted)
    number, spelled = _split(written, wanted)
    unit = wanted.find(spelled)
    if unit is None:
        raise QuantityError(_unit_fault(written, number, spelled, wanted))
    value = (number + unit.offset) * unit.scale
    if not math.isfinite(value):
        raise QuantityError(f'"{written}" is not a finite number')
    return value


def _as_text(text: str | float, wanted: Dimension) -> str:
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise QuantityError(f'{text!r} is not text; {wanted.noun} is needed, e.g. "{wanted.example}"')
    return text.strip() if isinstance(text, str) else repr(text)


def _split(written: str, wanted: Dimension) -> tuple[float, str]:
    """The number and the spelled unit."""
    plain = written.translate(_TYPOGRAPHY)
    for vulgar, fraction in _VULGAR.items():
        plain = plain.replace(vulgar, f" {fraction}")
    found = _QUANTITY.fullmatch(plain.strip())
    if found is None:
        raise QuantityError(_number_fault(written, wanted))
    spelled = " ".join(found["unit"].split())
    if found["plain"]:
        return float(found["sign"] + found["plain"]), spelled
    if int(found["under"]) == 0:
        raise QuantityError(f'"{written}" divides by zero')
    number = int(found["whole"] or 0) + int(found["over"]) / int(found["under"])
    return (-number if found["sign"] == "-" else number), spelled


def _number_fault(written: str, wanted: Dimension) -> str:
    needed = f'{wanted.noun} is needed, e.g. "{wanted.example}"'
    if re.match(r"[+-]?(nan|inf)", written, re.IGNORECASE):
        return f'"{written}" is not a finite number; {needed}'
    if re.search(r"\d,\d", written):
        return f'"{written}" has a comma; write a decimal point and no thousands separator; {needed}'
    return f'"{written}" does not start with a number; {needed}'


def _unit_fault(written: str, number: float, spelled: str, wanted: Dimension) -> str:
    needed = f'{wanted.noun} is needed, e.g. "{wanted.example}"'
    if spelled == "":
        return f'"{written}" has no unit; {needed}'
    for other in DIMENSIONS.values():
        unit = other.find(spelled)
        if unit is not None:
            if other is DIMENSIONS["temperature"] and wanted is DIMENSIONS["temperature_difference"]:
                needed = f'{wanted.noun} is needed: write "{number * unit.scale:.6g} K"'
            return f'"{written}" is {other.noun}; {needed}'
    near = _nearest(spelled, wanted)
    hint = f'did you mean "{near}"? ' if near else ""
    known = ", ".join(unit.name for unit in wanted.units)
    return f'"{written}": unknown unit "{spelled}"; {hint}{wanted.noun} is written in {known}'


def _nearest(spelled: str, wanted: Dimension) -> str | None:
    """The known unit closest in spelling: of the wanted dimension if there is one, else of any."""
    names = ([n for u in d.units for n in (u.name, *u.aliases)] for d in (wanted, *DIMENSIONS.values()))
    own = nearest_name(spelled, next(names))
    return own or nearest_name(spelled, [name for more in names for name in more])


def difference_of(dimension: str) -> str:
    """The dimension of a difference of two such quantities: only temperatures have one of their own."""
    return "temperature_difference" if dimension == "temperature" else dimension


def si_unit(dimension: str) -> str:
    """The unit text of stored datasets."""
    return DIMENSIONS[dimension].si


def display_unit(dimension: str, *, magnitude: float, system: System = "metric") -> str:
    """The unit a builder reads a value of this magnitude [SI] in."""
    shown = DIMENSIONS[dimension]
    ladder = shown.metric if system == "metric" else shown.inch
    return next(name for limit, name in ladder if abs(magnitude) < limit or limit == math.inf)


def to_unit(values: Numbers, unit: str, dimension: str) -> Numbers:
    """SI values expressed in a unit of their dimension; numbers or arrays."""
    found = _known_unit(unit, dimension)
    return values / found.scale - found.offset


def _known_unit(unit: str, dimension: str) -> Unit:
    found = DIMENSIONS[dimension].find(unit)
    if found is None:
        raise QuantityError(f'"{unit}" is not a unit of {DIMENSIONS[dimension].noun}')
    return found


def shown(values: ArrayLike, dimension: str, system: System = "metric") -> tuple[NDArray[np.float64], str]:
    """Values [SI] in the one unit in which a builder reads the largest of them, and that unit.

    What `show` is to a number in a sentence, this is to a column, an axis or a sheet: everything that is printed
    with a unit comes from one of the two.

    Parameters
    ----------
    values : float or array   [SI]
    dimension : str
        A key of `units.DIMENSIONS`.
    system : "metric" or "inch"

    Returns
    -------
    numbers : float64 of the same shape
    unit : str
        "1" for plain numbers.

    Examples
    --------
    >>> numbers, unit = shown([0.0254, 0.6096], "length", "inch")
    >>> numbers.round(6).tolist(), unit
    ([1.0, 24.0], 'in')
    """
    numbers = np.asarray(values, np.float64)
    finite = np.abs(numbers[np.isfinite(numbers)])
    unit = display_unit(dimension, magnitude=float(finite.max(initial=0.0)), system=system)
    return np.asarray(to_unit(numbers, unit, dimension)), unit


def on_a_rule(length: float, *, parts: int = 32) -> str:
    """A length as it is found on an inch rule, to the nearest of its finest marks: "23 5/8 in".

    Parameters
    ----------
    length : float   [m]
    parts : int
        Of an inch, between two marks; a power of two.

    Examples
    --------
    >>> on_a_rule(0.6), on_a_rule(0.0127), on_a_rule(0.0001)
    ('23 5/8 in', '1/2 in', '0 in')
    """
    return f"{_in_parts(round(to_unit(length, 'in', 'length') * parts), parts)} in"


def show(value: float, dimension: str, system: System = "metric", *, digits: int = 4) -> str:
    """A value as text with its unit: `show(0.6632, "angle")` is "38 deg".

    Inches that are an exact number of sixteenths are shown as a fraction. Digits are counted on the absolute
    scale, so 398.15 K shown with 4 is "125 degC" with one decimal, not three.

    Parameters
    ----------
    value : float   [SI]
    dimension : str
        A key of `units.DIMENSIONS`.
    system : "metric" or "inch"
    digits : int
        Significant digits.
    """
    if not math.isfinite(value):
        raise QuantityError(f"{value} cannot be shown as {DIMENSIONS[dimension].noun}")
    unit = _known_unit(display_unit(dimension, magnitude=value, system=system), dimension)
    number = value / unit.scale
    fraction = _sixteenths(number) if unit.name == "in" else None
    text = fraction or _rounded(number, unit.offset, digits)
    return text if unit.name == "1" else f"{text} {unit.name}"


def _rounded(absolute: float, offset: float, digits: int) -> str:
    if absolute == 0.0:
        return f"{0.0 - offset:g}"
    decimals = digits - 1 - math.floor(math.log10(abs(absolute)))
    shown = round(absolute - offset, decimals) + 0.0  # + 0.0 turns -0.0 into 0.0
    return f"{shown:.{max(decimals, 0)}f}".rstrip("0").rstrip(".") if decimals > 0 else f"{shown:.0f}"


def _sixteenths(inches: float) -> str | None:
    """ "1 1/2" for 1.5; None when the value is a whole number or no exact number of sixteenths."""
    count = round(inches * _SIXTEENTHS)
    if count % _SIXTEENTHS == 0 or not math.isclose(inches * _SIXTEENTHS, count, rel_tol=1e-9):
        return None
    return _in_parts(count, _SIXTEENTHS)


def _in_parts(count: int, parts: int) -> str:
    """So many parts of one as a whole number and a fraction in lowest terms."""
    whole, part = divmod(abs(count), parts)
    shrink = math.gcd(part, parts)
    words = [f"{whole}"] if whole or not part else []
    words += [f"{part // shrink}/{parts // shrink}"] if part else []
    return ("-" if count < 0 else "") + " ".join(words)


def parse_clock(text: str) -> float:
    """Seconds since midnight of a clock time "9:30" or "16:05:30", up to "24:00". [s]

    Raises
    ------
    QuantityError
        Not of that form, or no time of day.
    """
    found = _CLOCK.fullmatch(text.strip()) if isinstance(text, str) else None
    if found is None:
        raise QuantityError(f'{text!r} is not a clock time; write it as "9:30" or "16:05", in 24 hours')
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"] or 0)
    seconds = 3600.0 * hour + 60.0 * minute + second
    if minute > 59 or second > 59 or seconds > 86400.0:
        raise QuantityError(f'"{text}" is no time of day; the last one is "24:00"')
    return seconds


def show_clock(seconds: float) -> str:
    """Clock time of a number of seconds since midnight [s], to the nearest minute: "09:30"."""
    if not 0.0 <= seconds <= 86400.0:
        raise QuantityError(f"{seconds} s is no time of day, allowed 0 to 86400 s")
    minutes = round(seconds / 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
