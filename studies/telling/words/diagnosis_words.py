"""What a diagnosis says: the cause that explains most, those it is not told from, and the test that would tell."""

import math
from collections.abc import Iterator

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from .cook_words import part_of_cook
from .phrases import listed, said, spoken

_ENOUGH = 2.0  # K apart in a further test that a thermometer would show
_SATISFIED = 2.0  # K that thermometers and a plain model may leave


def diagnosis_sentences(result: xr.Dataset) -> list[str]:
    """The likeliest cause, its rivals, what would tell them apart, and what to do."""
    best = result.isel(cause=0)
    if float(result.attrs["unchanged_criterion"]) <= float(result.attrs["tied_within"]):
        return [_nothing_wrong(result), *_counted(result)]
    return [
        _likeliest(best, result),
        *_rivals(result),
        *_tests(result),
        *_parts(result),
        *_not_enough(best, result),
        *_unlikely(result),
        *_counted(result),
    ]


def _kelvin(value: float, result: xr.Dataset) -> str:
    return said(value, difference_of("temperature"), result.attrs, digits=2)


def _amount(one: xr.Dataset, name: str, result: xr.Dataset) -> str:
    """A value of a cause's factor as text."""
    dimension = str(one["factor_dimension"].item())
    return said(float(one[name]), dimension, result.attrs, digits=2 if dimension != "temperature" else 4)


def _change(one: xr.Dataset, result: xr.Dataset) -> str:
    described = (
        "" if math.isnan(float(one["described"])) else f" instead of {_amount(one, 'described', result)}"
    )
    return f"{spoken(one['factor'].item())} {_amount(one, 'value', result)}{described}"


def _nothing_wrong(result: xr.Dataset) -> str:
    left = _kelvin(float(result.attrs["unchanged_left"]), result)
    return f"Nothing needs explaining: as described the model is within {left} of the cooks (root of the mean square)."


def _likeliest(best: xr.Dataset, result: xr.Dataset) -> str:
    before = _kelvin(float(result.attrs["unchanged_left"]), result)
    return (
        f"As described the model is {before} off (root of the mean square). One change explains most: "
        f"{best['cause'].item()} ({best['meaning'].item()}), {_change(best, result)}, which leaves "
        f"{_kelvin(float(best['left']), result)}. Next: {best['look'].item()}."
    )


def _tied(result: xr.Dataset) -> list[str]:
    names = result["cause"].to_numpy()
    return [str(name) for name in names[result["tied"].to_numpy() == 1]]


def _rivals(result: xr.Dataset) -> Iterator[str]:
    """Causes that are not told from the best one."""
    best, *others = _tied(result)
    if not others:
        yield f"Beside {best} no other cause that was tried has any support."
        return
    told = [f"{name} ({_change(result.sel(cause=name), result)})" for name in others]
    yield f"These cooks do not tell {best} from {listed(told)}."
    for name in others:
        yield f"If it is {name}: {result.sel(cause=name)['look'].item()}."


def _tests(result: xr.Dataset) -> Iterator[str]:
    """What would tell the best cause from each rival."""
    if "apart" not in result:
        return
    best, *others = [str(name) for name in result["tied_cause"].to_numpy()]
    told: dict[str, list[str]] = {}
    for name in others:
        apart = np.nan_to_num(result["apart"].sel(tied_cause=best, other_cause=name).to_numpy(), nan=0.0)
        most = int(np.argmax(apart))
        gap, test = float(apart[most]), str(result["test"].to_numpy()[most])
        text = f"{name} ({_kelvin(gap, result)} apart)"
        told.setdefault(test if gap >= _ENOUGH else "", []).append(text)
    for test, names in told.items():
        if test:
            yield f"What would tell {best} from {listed(names)}: {test}."
        else:
            yield (
                f"No further cook that was tried tells {best} from {listed(names)}: put one of them right by hand, and "
                "cook again."
            )


def _parts(result: xr.Dataset) -> Iterator[str]:
    """Gaps by part of the cook, before and after."""
    before, after = result["gap_as_described"].to_numpy(), result["gap_explained"].to_numpy()
    told = [
        f"{part_of_cook(str(phase), result)} {_signed(was, result)}, then {_signed(now, result)}"
        for phase, was, now in zip(result["phase"].to_numpy(), before, after, strict=True)
        if math.isfinite(was)
    ]
    yield f"Predicted less measured, as described and so explained: {'; '.join(told)}."


def _signed(value: float, result: xr.Dataset) -> str:
    return ("+" if value > 0 else "-") + _kelvin(abs(value), result)


def _not_enough(best: xr.Dataset, result: xr.Dataset) -> Iterator[str]:
    if int(best["at_end"]):
        most = _amount(best, "value", result)
        yield f"Even {most}, the end of what was taken for plausible, does not explain it all."
    left = float(best["left"])
    if left > _SATISFIED:
        yield (
            f"No single change explains it: the best leaves {_kelvin(left, result)}, more than thermometers err. Two "
            "things at once may be wrong; a study of kind fit takes light, loss and contact together."
        )


def _unlikely(result: xr.Dataset) -> Iterator[str]:
    names = [str(name) for name in result["cause"].to_numpy()[result["tied"].to_numpy() == 0]]
    if names:
        yield f"Each alone, these explain it far worse: {listed(names)}."


def _counted(result: xr.Dataset) -> Iterator[str]:
    readings = int(np.isfinite(result["measured"].to_numpy()).sum())
    worth = float(result.attrs["independent_readings"])
    yield (
        f"{readings} readings were compared, worth {worth:.0f} independent ones, since what is left of neighbours is "
        "alike; causes that were not tried are not ruled out."
    )
