"""Which quantities of a design are off, and by how much: the `accuracy` table of a config, read."""

from typing import Any

from ...model import Catalogue, Choice, Count, Design, Quantity, Spec, suggestion
from ..asking.quantity import QuantityError, difference_of, parse, show
from ..judging.space import Parameter
from ..methods.sweeps import Toleranced
from .accuracies import USUAL

USUALLY = "usual"  # in place of an accuracy: the one of the list


def toleranced(
    asked: dict[str, Any] | None, design: Design, catalogue: Catalogue
) -> tuple[list[Toleranced], list[str]]:
    """Quantities that are off, and a sentence on each one of the table that cannot be.

    Parameters
    ----------
    asked : dict, optional
        Quantity -> accuracy as text, or "usual"; all of the usual list that the design has if left out.
    design : Design
        Quantities it does not use are left out.
    catalogue : Catalogue
        Where a design leaves a value to its material or food.
    """
    table = asked if asked is not None else dict.fromkeys(USUAL, USUALLY)
    parts, faults = [], []
    for name, width in table.items():
        try:
            part = _part(name, width, design, catalogue)
        except QuantityError as error:
            if asked is not None:  # of the usual list, what this design has not or does not use is left out
                faults.append(f"accuracy.{name}: {error}")
            continue
        if name not in design.idle and part.accuracy > 0:
            parts.append(part)
    if not parts and not faults:
        faults.append(
            "accuracy: nothing is off; name a quantity that this design uses, or leave the table out"
        )
    return parts, faults


def _part(name: str, width: Any, design: Design, catalogue: Catalogue) -> Toleranced:
    spec = design.factors.get(name)
    if spec is None:
        raise QuantityError(f"no field of this design; {suggestion(name, design.factors)}")
    if not isinstance(spec, Quantity):
        raise QuantityError(f"{_kind_of(spec)} is right or wrong, not a little off; leave it out")
    at = _designed(name, design, catalogue)
    parameter = Parameter(
        name=name,
        kind="real",
        meaning=spec.meaning,
        low=spec.low,
        high=spec.high,
        dimension=spec.dimension,
    )
    return Toleranced(parameter=parameter, at=at, accuracy=_accuracy(name, width, at, spec))


def _kind_of(spec: Spec) -> str:
    return "a whole number" if isinstance(spec, Count) else "a word" if isinstance(spec, Choice) else "a name"


def _accuracy(name: str, width: Any, at: float, spec: Quantity) -> float:
    dimension = difference_of(spec.dimension)
    if width == USUALLY:
        if name not in USUAL:
            raise QuantityError("has no usual accuracy; write one, with its unit")
        return USUAL[name].accuracy(at, dimension)
    accuracy = parse(width, dimension)
    if not 0 < accuracy <= spec.high - spec.low:
        raise QuantityError(
            f"{width} is no accuracy; allowed above zero, up to {show(spec.high - spec.low, dimension)}"
        )
    return accuracy


def _designed(name: str, design: Design, catalogue: Catalogue) -> float:
    """The value of a quantity, where the design leaves it to a material or a food as well. [SI]"""
    value = design.value(name)
    if value is not None:
        return float(value)
    food = catalogue.foods[design.meal.food]
    elsewhere = {
        "slope_error": lambda: catalogue.materials.numbers("mirrors", design.oven.funnel.mirror)[name],
        "added_water": lambda: food.added_water,
        "start_temperature": lambda: food.start_temperature,
    }
    if name not in elsewhere:
        raise QuantityError("is not set in this design; set it, and it can be off")
    return float(elsewhere[name]())
