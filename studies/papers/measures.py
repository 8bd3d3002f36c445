"""Lengths, areas and masses of papers in the builder's units: millimetres, or inches by the rule and in decimals."""

from ..asking.quantity import System, on_a_rule, to_unit

UNITS: dict[System, dict[str, str]] = {
    "metric": {"length": "mm", "area": "m2", "mass": "kg", "edge speed": "mm/min"},
    "inch": {"length": "in", "area": "ft2", "mass": "lb", "edge speed": "in/min"},
}
"""One unit for a whole column; `show` would change it with the size."""

_MM_PER_S = 60.0  # mm/min in a mm/s, which has no entry of its own among the units of a config


def unit(dimension: str, system: System) -> str:
    """The unit of a column of a paper; that of the dimension itself where papers have none of their own."""
    return UNITS[system][dimension]


def number(value: float, dimension: str, system: System) -> float:
    """A value [SI] in the unit of its column."""
    if dimension != "edge speed":
        return float(to_unit(value, unit(dimension, system), dimension))
    return float(
        to_unit(value, "in/min", "speed") if system == "inch" else to_unit(value, "mm/s", "speed") * _MM_PER_S
    )


def length_words(length: float, system: System) -> str:
    """A length [m] with its unit: "472.3 mm", or "18 19/32 in (18.594)"."""
    if system == "inch":
        return f"{on_a_rule(length)} ({number(length, 'length', system):.3f})"
    return f"{cell(1e3 * length, 'mm').removesuffix('.0')} mm"


def cell(value: object, unit_: str = "") -> str:
    """What a table shows of a value in a unit; inches to the rule's nearest mark with the decimal beside."""
    if not isinstance(value, float):
        return str(value)
    if value != value:
        return ""
    if unit_ == "in":
        return f"{on_a_rule(value * 0.0254).removesuffix(' in')} ({value:.3f})"
    if unit_ == "deg":
        return f"{value:.1f}"
    if unit_ == "mm":
        return f"{value:.1f}" if abs(value) >= 1 else f"{value:.3g}"
    return f"{value:.{3 if unit_ in ('kg', 'lb') else 5}g}"
