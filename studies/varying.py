"""The `vary` table of a study: which fields of a design vary, and between what, as a `Space`."""

from dataclasses import dataclass
from typing import Any

from ..model import Catalogued, Choice, Count, Design, Quantity, Spec, suggestion
from .quantity import QuantityError, difference_of, parse, show
from .schema import allowed
from .space import Parameter, Space


@dataclass(frozen=True, kw_only=True)
class Vary:
    """One factor of a study: between two ends, within so much of the design's own value, or among words."""

    name: str
    spec: Spec
    low: float | None = None
    high: float | None = None
    within: float | None = None
    words: tuple[str, ...] = ()

    def parameter(self, design: Design) -> Parameter:
        """The factor with its ends settled round a design."""
        meaning = self.spec.meaning
        if self.words:
            return Parameter(name=self.name, kind="choice", meaning=meaning, choices=self.words)
        low, high = self.low, self.high
        if self.within is not None:
            assert isinstance(self.spec, Quantity | Count)
            middle = float(design.value(self.name))
            low = max(middle - self.within, self.spec.low)
            high = min(middle + self.within, self.spec.high)
        if isinstance(self.spec, Quantity):
            dimension = self.spec.dimension
            return Parameter(
                name=self.name, kind="real", meaning=meaning, low=low, high=high, dimension=dimension
            )
        return Parameter(name=self.name, kind="integer", meaning=meaning, low=low, high=high)


def space_round(varies: tuple[Vary, ...], design: Design) -> Space:
    """The space of a study round a design."""
    return Space(tuple(vary.parameter(design) for vary in varies))


def read_varies(
    table: dict[str, Any], factors: dict[str, Spec], catalogue: dict[str, Any]
) -> tuple[Vary, ...]:
    """All factors of a `vary` table.

    Raises
    ------
    VaryError
        With one sentence for each factor that cannot vary so.
    """
    found, faults = [], []
    for name, value in table.items():
        try:
            found.append(_read(name, value, factors, catalogue))
        except QuantityError as error:
            faults.append(f"{name}: {error}")
    if faults:
        raise VaryError(faults)
    return tuple(found)


class VaryError(ValueError):
    """Factors that cannot vary as asked."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def _read(name: str, value: Any, factors: dict[str, Spec], catalogue: dict[str, Any]) -> Vary:
    if name not in factors:
        raise QuantityError(f"no field of this design; {suggestion(name, factors)}")
    spec = factors[name]
    match spec:
        case Choice(options=options):
            return Vary(name=name, spec=spec, words=_words(value, options))
        case Catalogued(group=group):
            return Vary(name=name, spec=spec, words=_words(value, tuple(catalogue[group])))
        case _ if isinstance(value, dict):
            if set(value) != {"within"}:
                raise QuantityError('write [low, high], or { within = "..." } round the design itself')
            return Vary(name=name, spec=spec, within=_width(value["within"], spec))
        case _ if isinstance(value, list) and len(value) == 2:
            low, high = (_end(end, spec) for end in value)
            if not low < high:
                raise QuantityError(f"the first end must be below the second, got {value[0]} and {value[1]}")
            return Vary(name=name, spec=spec, low=low, high=high)
        case _:
            raise QuantityError('two ends are needed, for example ["30 deg", "45 deg"]')


def _words(value: Any, known: tuple[str, ...]) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) < 2 or len(set(map(str, value))) != len(value):
        raise QuantityError(
            f"a list of at least two different names is needed; there are: {', '.join(known)}"
        )
    for word in value:
        if word not in known:
            raise QuantityError(f'"{word}" is not allowed; {suggestion(str(word), known)}')
    return tuple(value)


def _end(value: Any, spec: Quantity | Count) -> float:
    number = _number(value, spec)
    if not spec.low <= number <= spec.high:
        raise QuantityError(f"{value} is outside what is allowed: {allowed(spec)}")
    return number


def _width(value: Any, spec: Quantity | Count) -> float:
    dimension = getattr(spec, "dimension", "count")
    wanted = difference_of(dimension)
    width = _number(value, spec) if wanted == dimension else parse(value, wanted)
    if width <= 0:
        raise QuantityError(f"within = {value}: must be above {show(0.0, wanted)}")
    return width


def _number(value: Any, spec: Quantity | Count) -> float:
    if isinstance(spec, Quantity):
        return parse(value, spec.dimension)
    if not isinstance(value, int) or isinstance(value, bool):
        raise QuantityError(f"{value!r} is not a whole number")
    return float(value)
