"""The `vary` table of a study: which fields of a design vary, between what and how, as a `Space`.

A factor is `[low, high]`, a list of words, or a table of one key: `within` so much of the design's own value;
`normal` with a mean and a standard deviation, or with the standard deviation alone round the design's own value;
`triangle` with its least, likeliest and greatest value; `log_uniform` between two ends; `shares` of words.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from ...model import Catalogued, Choice, Count, Design, Quantity, Spec, suggestion
from ..judging.space import Parameter, Space, SpaceError
from .distributions import Distribution, Normal, Shares, Triangle
from .quantity import QuantityError, difference_of, parse, show
from .schema import allowed

SPREADS = ("normal", "triangle", "log_uniform", "shares")
"""Keys by which a factor is drawn otherwise than evenly."""


@dataclass(frozen=True, kw_only=True)
class Vary:
    """One factor of a study: between two ends, within so much of the design's own value, or among words.

    `deviation` is that of a bell round the design's own value.
    """

    name: str
    spec: Spec
    low: float | None = None
    high: float | None = None
    within: float | None = None
    words: tuple[str, ...] = ()
    log: bool = False
    spread: Distribution | None = None
    deviation: float | None = None

    def parameter(self, design: Design) -> Parameter:
        """The factor with its ends settled round a design."""
        meaning, spread = self.spec.meaning, self.spread
        if self.words:
            return Parameter(
                name=self.name, kind="choice", meaning=meaning, choices=self.words, spread=spread
            )
        low, high = self.low, self.high
        if self.within is not None:
            assert isinstance(self.spec, Quantity | Count)
            middle = self._own(design)
            low = max(middle - self.within, self.spec.low)
            high = min(middle + self.within, self.spec.high)
        if isinstance(self.spec, Quantity):
            if self.deviation is not None:
                spread = Normal(mean=self._own(design), deviation=self.deviation)
            return Parameter(
                name=self.name,
                kind="real",
                meaning=meaning,
                low=low,
                high=high,
                dimension=self.spec.dimension,
                log=self.log,
                spread=spread,
            )
        return Parameter(name=self.name, kind="integer", meaning=meaning, low=low, high=high)

    def _own(self, design: Design) -> float:
        """The design's own value."""
        own = design.value(self.name)
        if own is None:
            raise SpaceError(
                f"{self.name}: the design leaves it to the catalogue; write the two ends or the mean"
            )
        return float(own)


def space_round(varies: tuple[Vary, ...], design: Design) -> Space:
    """The space of a study round a design."""
    return Space(tuple(vary.parameter(design) for vary in varies))


def uneven(table: dict[str, Any]) -> Iterator[str]:
    """Sentences on factors of a `vary` table that are drawn otherwise than evenly, for studies that go by ends."""
    for name, value in table.items():
        found = [key for key in SPREADS if isinstance(value, dict) and key in value]
        if found:
            yield f"vary.{name}: {found[0]} is for studies that sample; here write its ends or names in a list"


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
    if isinstance(spec, Choice | Catalogued):
        known = spec.options if isinstance(spec, Choice) else tuple(catalogue[spec.group])
        return _read_words(name, value, spec, known)
    if isinstance(value, dict):
        return _read_table(name, value, spec)
    if isinstance(value, list) and len(value) == 2:
        low, high = _ends(value, spec)
        return Vary(name=name, spec=spec, low=low, high=high)
    raise QuantityError('two ends are needed, for example ["30 deg", "45 deg"]')


def _read_words(name: str, value: Any, spec: Choice | Catalogued, known: tuple[str, ...]) -> Vary:
    if not isinstance(value, dict):
        return Vary(name=name, spec=spec, words=_words(value, known))
    if set(value) != {"shares"} or not isinstance(value["shares"], dict):
        raise QuantityError('write a list of names, or { shares = { one = "60 %", other = "40 %" } }')
    words = _words(list(value["shares"]), known)
    shares = Shares(each=tuple(parse(share, "share") for share in value["shares"].values()))
    fault = shares.fault(len(words))
    if fault:
        raise QuantityError(fault)
    return Vary(name=name, spec=spec, words=words, spread=shares)


def _read_table(name: str, table: dict[str, Any], spec: Quantity | Count) -> Vary:
    """A factor given by one key and its value."""
    readers: dict[str, Callable[[Any, Quantity], dict[str, Any]]] = {
        "normal": _normal,
        "triangle": _triangle,
        "log_uniform": _log_uniform,
    }
    if set(table) == {"within"}:
        return Vary(name=name, spec=spec, within=_width(table["within"], spec, "within"))
    if len(table) == 1 and set(table) <= set(readers):
        if isinstance(spec, Count):
            raise QuantityError("a whole number is drawn evenly; write [low, high]")
        ((key, value),) = table.items()
        return Vary(name=name, spec=spec, **readers[key](value, spec))
    raise QuantityError(
        'write [low, high], or one of { within = "..." }, { normal = ["mean", "standard deviation"] }, '
        '{ normal = "standard deviation" }, { triangle = ["least", "likely", "greatest"] }, '
        '{ log_uniform = ["low", "high"] }'
    )


def _normal(value: Any, spec: Quantity) -> dict[str, Any]:
    """A bell over all that the field may be."""
    ends = {"low": spec.low, "high": spec.high}
    if not isinstance(value, list):
        return ends | {"deviation": _width(value, spec, "normal")}
    if len(value) != 2:
        raise QuantityError('normal needs a mean and a standard deviation, for example ["38 deg", "1 deg"]')
    bell = Normal(mean=_end(value[0], spec), deviation=_width(value[1], spec, "standard deviation"))
    return ends | {"spread": bell}


def _triangle(value: Any, spec: Quantity) -> dict[str, Any]:
    if not isinstance(value, list) or len(value) != 3:
        raise QuantityError("triangle needs three values: the least, the likeliest and the greatest")
    low, likely, high = (_end(end, spec) for end in value)
    if not (low <= likely <= high and low < high):
        raise QuantityError(f"triangle: the three values must rise, got {', '.join(map(str, value))}")
    return {"low": low, "high": high, "spread": Triangle(likely=likely)}


def _log_uniform(value: Any, spec: Quantity) -> dict[str, Any]:
    if not isinstance(value, list) or len(value) != 2:
        raise QuantityError("log_uniform needs two ends")
    low, high = _ends(value, spec)
    if low <= 0.0:
        raise QuantityError(f"log_uniform: {value[0]} has no logarithm; both ends must be above zero")
    return {"low": low, "high": high, "log": True}


def _ends(value: list[Any], spec: Quantity | Count) -> tuple[float, float]:
    low, high = (_end(end, spec) for end in value)
    if not low < high:
        raise QuantityError(f"the first end must be below the second, got {value[0]} and {value[1]}")
    return low, high


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


def _width(value: Any, spec: Quantity | Count, key: str) -> float:
    dimension = getattr(spec, "dimension", "count")
    wanted = difference_of(dimension)
    width = _number(value, spec) if wanted == dimension else parse(value, wanted)
    if width <= 0:
        raise QuantityError(f"{key} = {value}: must be above {show(0.0, wanted)}")
    return width


def _number(value: Any, spec: Quantity | Count) -> float:
    if isinstance(spec, Quantity):
        return parse(value, spec.dimension)
    if not isinstance(value, int) or isinstance(value, bool):
        raise QuantityError(f"{value!r} is not a whole number")
    return float(value)
