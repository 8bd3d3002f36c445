"""The unit table: every unit a config may use, and the SI unit each dimension is stored in.

Nothing else in the project spells a unit or holds a conversion factor. Conversion factors are the exact ones
of the international yard and pound agreement (1959) and of NIST Special Publication 811 (2008), appendix B.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

DEGREE = math.pi / 180.0
INCH = 0.0254  # m, exact
FOOT = 12.0 * INCH
POUND = 0.45359237  # kg, exact
POUND_FORCE = POUND * 9.80665  # N, standard gravity exact (CGPM 1901)
BTU = 1055.05585262  # J, International Table
FAHRENHEIT = 5.0 / 9.0  # K per degree Fahrenheit


@dataclass(frozen=True)
class Unit:
    """One way of writing a dimension: SI value = (number + offset) * scale."""

    name: str
    scale: float
    offset: float = 0.0
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class Dimension:
    """What is measured: how it is spoken of, stored, written and shown.

    Parameters
    ----------
    noun : str
        With its article, for sentences: "an angle".
    si : str
        Unit text in stored datasets, in the spelling of UDUNITS.
    example : str
        A text that parses.
    units : tuple of Unit
        Every accepted unit.
    metric, inch : tuple of (float, str)
        Units to show: the first whose limit [SI] is above the magnitude.
    """

    noun: str
    si: str
    example: str
    units: tuple[Unit, ...]
    metric: tuple[tuple[float, str], ...]
    inch: tuple[tuple[float, str], ...]

    def find(self, spelled: str) -> Unit | None:
        """The unit written so, or None."""
        return next((unit for unit in self.units if spelled in (unit.name, *unit.aliases)), None)


Shown = str | tuple[tuple[float, str], ...]


def _unit(name: str, scale: float, *aliases: str, offset: float = 0.0) -> Unit:
    return Unit(name, scale, offset, aliases)


def _dimension(
    noun: str, si: str, example: str, *units: Unit, metric: Shown, inch: Shown | None = None
) -> Dimension:
    def ladder(shown: Shown) -> tuple[tuple[float, str], ...]:
        return ((math.inf, shown),) if isinstance(shown, str) else shown

    return Dimension(noun, si, example, units, ladder(metric), ladder(metric if inch is None else inch))


DIMENSIONS: dict[str, Dimension] = {
    "angle": _dimension(
        *("an angle", "rad", "38 deg"),
        _unit("deg", DEGREE, "degree", "degrees", "°"),
        _unit("rad", 1.0, "radian", "radians"),
        _unit("mrad", 1e-3),
        _unit("arcmin", DEGREE / 60.0),
        metric="deg",
    ),
    "length": _dimension(
        *("a length", "m", "610 mm"),
        _unit("mm", 1e-3),
        _unit("cm", 1e-2),
        _unit("m", 1.0, "metre", "metres", "meter", "meters"),
        _unit("km", 1e3),
        _unit("um", 1e-6, "micron", "microns"),
        _unit("in", INCH, "inch", "inches", '"'),
        _unit("ft", FOOT, "foot", "feet", "'"),
        metric=((10.0, "mm"), (math.inf, "m")),
        inch=((10.0, "in"), (math.inf, "ft")),
    ),
    "area": _dimension(
        *("an area", "m2", "0.5 m2"),
        _unit("mm2", 1e-6),
        _unit("cm2", 1e-4),
        _unit("m2", 1.0),
        _unit("in2", INCH**2, "sq in"),
        _unit("ft2", FOOT**2, "sq ft"),
        metric=((0.01, "cm2"), (math.inf, "m2")),
        inch=((0.1 * FOOT**2, "in2"), (math.inf, "ft2")),
    ),
    "volume": _dimension(
        *("a volume", "m3", "3 l"),
        _unit("l", 1e-3, "L", "litre", "litres", "liter", "liters"),
        _unit("ml", 1e-6, "mL"),
        _unit("m3", 1.0),
        _unit("cm3", 1e-6),
        _unit("qt", 57.75 * INCH**3, "quart", "quarts"),  # US liquid quart, 231/4 cubic inches exact
        metric="l",
        inch="qt",
    ),
    "mass": _dimension(
        *("a mass", "kg", "3 kg"),
        _unit("kg", 1.0),
        _unit("g", 1e-3),
        _unit("lb", POUND, "lbs", "pound", "pounds"),
        _unit("oz", POUND / 16.0),
        metric=((0.1, "g"), (math.inf, "kg")),
        inch=((0.1 * POUND, "oz"), (math.inf, "lb")),
    ),
    "time": _dimension(
        *("a time", "s", "20 min"),
        _unit("s", 1.0, "sec", "second", "seconds"),
        _unit("min", 60.0, "minute", "minutes"),
        _unit("h", 3600.0, "hr", "hour", "hours"),
        _unit("d", 86400.0, "day", "days"),
        _unit("yr", 365.25 * 86400.0, "year", "years"),  # Julian year
        metric=((120.0, "s"), (3 * 3600.0, "min"), (3 * 86400.0, "h"), (1e8, "d"), (math.inf, "yr")),
    ),
    "temperature": _dimension(
        *("a temperature", "K", "125 degC"),
        _unit("degC", 1.0, "C", "°C", "celsius", offset=273.15),
        _unit("degF", FAHRENHEIT, "F", "°F", "fahrenheit", offset=459.67),
        _unit("K", 1.0, "kelvin"),
        metric="degC",
        inch="degF",
    ),
    "temperature_difference": _dimension(  # "degF" alone is a temperature: 18 F deg are 10 K, 18 degF are 265 K
        *("a temperature difference", "K", "10 K"),
        _unit("K", 1.0, "kelvin"),
        _unit("F deg", FAHRENHEIT, "Fahrenheit degrees"),
        metric="K",
        inch="F deg",
    ),
    "speed": _dimension(
        *("a speed", "m s-1", "1.5 m/s"),
        _unit("m/s", 1.0, "m s-1"),
        _unit("mm/s", 1e-3),
        _unit("km/h", 1.0 / 3.6),
        _unit("mph", 5280.0 * FOOT / 3600.0),
        _unit("in/min", INCH / 60.0),
        metric=((0.1, "mm/s"), (math.inf, "m/s")),
        inch=((0.1, "in/min"), (math.inf, "mph")),
    ),
    "angular_speed": _dimension(
        *("a rate of turning", "rad s-1", "15 deg/h"),
        _unit("deg/h", DEGREE / 3600.0),
        _unit("deg/min", DEGREE / 60.0),
        _unit("deg/s", DEGREE),
        _unit("rad/s", 1.0, "rad s-1"),
        _unit("rpm", 2.0 * math.pi / 60.0),
        metric=((5.0 * DEGREE / 60.0, "deg/h"), (math.inf, "deg/s")),
    ),
    "force": _dimension(
        *("a force", "N", "20 N"), _unit("N", 1.0), _unit("lbf", POUND_FORCE), metric="N", inch="lbf"
    ),
    "pressure": _dimension(
        *("a pressure", "Pa", "1013 hPa"),
        _unit("Pa", 1.0),
        _unit("hPa", 100.0, "mbar"),
        _unit("kPa", 1e3),
        _unit("bar", 1e5),
        _unit("psi", POUND_FORCE / INCH**2),
        metric="hPa",
        inch="psi",
    ),
    "energy": _dimension(
        *("an energy", "J", "800 kJ"),
        _unit("J", 1.0),
        _unit("kJ", 1e3),
        _unit("MJ", 1e6),
        _unit("Wh", 3600.0),
        _unit("kWh", 3.6e6),
        _unit("Btu", BTU, "BTU"),
        metric="kJ",
        inch="Btu",
    ),
    "voltage": _dimension(
        *("a voltage", "V", "8 V"), _unit("V", 1.0), _unit("mV", 1e-3), _unit("uV", 1e-6), metric="V"
    ),
    "current": _dimension(
        *("a current", "A", "100 mA"),
        _unit("A", 1.0),
        _unit("mA", 1e-3),
        metric=((1.0, "mA"), (math.inf, "A")),
    ),
    "resistance": _dimension(
        *("a resistance", "ohm", "20 ohm"), _unit("ohm", 1.0, "ohms", "Ω"), metric="ohm"
    ),
    "power": _dimension(
        *("a power", "W", "200 W"),
        _unit("W", 1.0),
        _unit("kW", 1e3),
        _unit("Btu/h", BTU / 3600.0, "BTU/h"),
        metric="W",
    ),
    "irradiance": _dimension(
        *("an irradiance", "W m-2", "900 W/m2"),
        _unit("W/m2", 1.0, "W m-2", "W/m^2"),
        _unit("kW/m2", 1e3, "kW m-2"),
        metric="W/m2",
    ),
    "irradiation": _dimension(
        *("a sum of sunlight", "J m-2", "5.5 kWh/m2"),
        _unit("kWh/m2", 3.6e6, "kWh m-2"),
        _unit("Wh/m2", 3600.0, "Wh m-2"),
        _unit("MJ/m2", 1e6, "MJ m-2"),
        _unit("J/m2", 1.0, "J m-2"),
        metric="kWh/m2",
    ),
    "conductivity": _dimension(
        *("a conductivity", "W m-1 K-1", "0.04 W/(m K)"),
        _unit("W/(m K)", 1.0, "W/m/K", "W m-1 K-1"),
        _unit("Btu in/(h ft2 F)", BTU * INCH / (3600.0 * FOOT**2 * FAHRENHEIT)),
        metric="W/(m K)",
    ),
    "conductance": _dimension(
        *("a heat transfer coefficient", "W m-2 K-1", "6 W/(m2 K)"),
        _unit("W/(m2 K)", 1.0, "W/m2/K", "W m-2 K-1"),
        _unit("Btu/(h ft2 F)", BTU / (3600.0 * FOOT**2 * FAHRENHEIT)),
        metric="W/(m2 K)",
    ),
    "specific_heat": _dimension(
        *("a specific heat", "J kg-1 K-1", "4186 J/(kg K)"),
        _unit("J/(kg K)", 1.0, "J/kg/K", "J kg-1 K-1"),
        _unit("kJ/(kg K)", 1e3, "kJ/kg/K", "kJ kg-1 K-1"),
        metric="J/(kg K)",
    ),
    "density": _dimension(
        *("a density", "kg m-3", "30 kg/m3"),
        _unit("kg/m3", 1.0, "kg m-3"),
        _unit("g/cm3", 1e3),
        _unit("lb/ft3", POUND / FOOT**3),
        metric="kg/m3",
        inch="lb/ft3",
    ),
    "areal_density": _dimension(
        *("a mass per area", "kg m-2", "1.2 kg/m2"),
        _unit("kg/m2", 1.0, "kg m-2"),
        _unit("g/m2", 1e-3),
        _unit("lb/ft2", POUND / FOOT**2),
        metric="kg/m2",
        inch="lb/ft2",
    ),
    "extinction": _dimension(
        *("an extinction coefficient", "m-1", "16 1/m"),
        _unit("1/m", 1.0, "m-1"),
        _unit("1/cm", 100.0, "cm-1"),
        _unit("1/mm", 1000.0, "mm-1"),
        metric="1/m",
    ),
    "share": _dimension(
        *("a share", "1", "50 %"), _unit("%", 0.01, "percent"), _unit("1", 1.0, ""), metric="%"
    ),
    "money": _dimension(  # in the currency of whoever wrote the prices: none is named, none is converted
        *("an amount of money", "1", "12.50"), _unit("1", 1.0, ""), metric="1"
    ),
    "count": _dimension(*("a plain number", "1", "8"), _unit("1", 1.0, ""), metric="1"),
}
