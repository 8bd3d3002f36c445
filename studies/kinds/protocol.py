"""Test cooks planned: how many, with which thermometers, shaded or empty, tell the oven as built well enough."""

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import Design
from ..judging.campaigns import ENDLESS, Campaigns, Protocol, protocols
from ..judging.imagined import imagined
from ..judging.measured import FOOD
from ..judging.refits import Errors, Refits, refitted
from ..methods.planning import MOST, least_count, reach
from .fit_table import RATIOS
from .kind import Kind, Work, middle_day
from .labels import attributes
from .protocol_table import ProtocolSection, protocol_faults

Floats = NDArray[np.float64]


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section = work.section
    work.progress(0, 1 + section.refits, 0)
    plan = campaigns_of(work)
    ways = protocols(list(section.sensors), section.shades, plan.empty is not None)
    counts = list(range(1, section.most_cooks + 1))
    reached = np.array([plan.reached(way, counts) for way in ways])
    wanted = np.array([section.wanted.get(name, np.nan) for name in RATIOS])
    needed = [least_count(one, wanted) for one in reached]
    best = _best(plan, ways, needed, reached, wanted)
    refits = _checked(work, plan, ways[best])
    work.progress(1 + section.refits, 1 + section.refits, 0)
    variables = _by_protocol(plan, ways, reached, needed)
    variables |= _by_factor(plan, ways[best], wanted, needed[best] or counts[-1])
    variables |= _of_refits(plan, ways[best], refits)
    coordinates = {
        "factor": (
            "factor",
            np.array(RATIOS),
            attributes("ratio of the oven as built to the oven as described"),
        ),
        "other": ("other", np.array(RATIOS), attributes("the same ratios")),
        "cooks": ("cooks", np.array(counts, np.int64), attributes("cooks with load")),
    }
    dataset = xr.Dataset(variables, coords=coordinates).assign_attrs(_about(work, plan, best, needed[best]))
    return dataset, work.design


def campaigns_of(work: Work) -> Campaigns:
    """The imagined cooks of a study, and the errors of its instruments."""
    section, setting = work.section, work.within(design=work.design).setting
    sensors, day = tuple(section.sensors), middle_day(setting.sky.ghi)
    dry = tuple(sensor for sensor in sensors if sensor != FOOD)
    pace: dict[str, Any] = {"day": day, "every": section.every}
    return Campaigns(
        loaded=imagined(setting, RATIOS, sensors, heat_up=section.heat_up, shade=max(section.shades), **pace),
        empty=None
        if section.empty is None
        else imagined(setting, RATIOS, dry, heat_up=section.empty, shade=0.0, empty=True, **pace),
        heat_up=section.heat_up,
        every=section.every,
        errors=Errors(
            reading=dict(section.sensors),
            offset=dict(section.offset),
            sunlight=section.irradiance_error,
            memory=section.alike_for,
        ),
        between=section.between_cooks,
        prior=dict(section.prior),
    )


def _best(
    plan: Campaigns, ways: list[Protocol], needed: list[int | None], reached: Floats, wanted: Floats
) -> int:
    """The way that gets there in the least time, then with the fewest thermometers; else the one that gets nearest."""
    there = [k for k, count in enumerate(needed) if count is not None]
    if there:
        return min(there, key=lambda k: (plan.hours(ways[k], needed[k] or 0), len(ways[k].sensors), k))
    missed = np.nanmax(reached[:, -1] / wanted, axis=1)
    return int(np.argmin(missed))


def _checked(work: Work, plan: Campaigns, way: Protocol) -> Refits | None:
    """Fits to made-up readings of one loaded cook of a way."""
    if not work.section.refits:
        return None
    return refitted(
        plan.loaded,
        way.sensors,
        plan.until(way.shade),
        plan.errors,
        prior=plan.prior,
        every=plan.every,
        count=work.section.refits,
        seed=work.setting.seed,
    )


def _by_protocol(
    plan: Campaigns, ways: list[Protocol], reached: Floats, needed: list[int | None]
) -> dict[str, Any]:
    counts = reached.shape[1]
    hours = [[plan.hours(way, count + 1) for count in range(counts)] for way in ways]
    floor = np.array([plan.reached(way, [ENDLESS])[0] for way in ways])
    alike = np.array([plan.alike(way) for way in ways])
    over: Any = ("protocol", "cooks", "factor")
    return {
        "status": ("protocol", np.zeros(len(ways), np.int64), attributes("0 where a way could be judged")),
        "sensors": (
            "protocol",
            np.array([" ".join(way.sensors) for way in ways]),
            attributes("thermometers read"),
        ),
        "shade": (
            "protocol",
            np.array([way.shade for way in ways]),
            attributes("mouth shaded after the heat-up", "s"),
        ),
        "empty": (
            "protocol",
            np.array([int(way.empty) for way in ways], np.int64),
            attributes("1 where one cook without load is done as well"),
        ),
        "reach": (over, reached, attributes("upper end of the 95 % interval over the estimate, less 1")),
        "floor": (("protocol", "factor"), floor, attributes("the same after cooks without end")),
        "hours": (("protocol", "cooks"), np.array(hours), attributes("time at the oven", "s")),
        "cooks_needed": (
            "protocol",
            np.array([np.nan if count is None else count for count in needed], np.float64),
            attributes("loaded cooks until all that is wanted is reached; nan: not within the most"),
        ),
        "alike": (
            ("protocol", "factor", "other"),
            alike,
            attributes("correlation after one cook, with true sunlight and one oven in all cooks"),
        ),
    }


def _by_factor(plan: Campaigns, way: Protocol, wanted: Floats, count: int) -> dict[str, Any]:
    """What is wanted, and what the instrument for sunlight and the differences between cooks leave of the best way."""
    true = reach(np.diag(plan.known(way, count, sunlight=0.0)))
    same = reach(np.diag(plan.known(way, count, between=0.0)))
    return {
        "wanted": ("factor", wanted, attributes("reach that is wanted; nan: none")),
        "true_sunlight": (
            "factor",
            true,
            attributes("reach of the recommended way, were the instrument for sunlight true"),
        ),
        "same_cooks": (
            "factor",
            same,
            attributes("reach of the recommended way, were all cooks the same oven"),
        ),
    }


def _of_refits(plan: Campaigns, way: Protocol, refits: Refits | None) -> dict[str, Any]:
    """Foretold and found of one loaded cook of the recommended way."""
    alone = Protocol(way.sensors, way.shade, False)
    foretold = np.sqrt(np.diag(plan.known(alone, 1, between=0.0, sunlight=0.0)))
    truth = plan.loaded.values
    spread = held = np.full(len(RATIOS), np.nan)
    if refits is not None and len(refits.values) > 1:
        spread = np.log(refits.values).std(axis=0, ddof=1)
        held = ((refits.low <= truth) & (truth <= refits.high)).mean(axis=0)
    return {
        "foretold_error": (
            "factor",
            foretold,
            attributes("standard error of the logarithm after one cook under true sunlight"),
        ),
        "refit_error": ("factor", spread, attributes("standard deviation of the logarithm over refits")),
        "refit_held": ("factor", held, attributes("share of refits whose 95 % interval holds the truth")),
    }


def _about(work: Work, plan: Campaigns, best: int, count: int | None) -> dict[str, Any]:
    section = work.section
    return {
        "study": "protocol",
        "recommended": best,
        "recommended_cooks": 0 if count is None else count,
        "refits": section.refits,
        "heat_up": section.heat_up,
        "empty_for": 0.0 if section.empty is None else section.empty,
        "every": section.every,
        "alike_for": section.alike_for,
        "between_cooks": section.between_cooks,
        "irradiance_error": section.irradiance_error,
        "reading_error": "; ".join(f"{name} {value:g} K" for name, value in section.sensors.items()),
        "offset_error": "; ".join(f"{name} {value:g} K" for name, value in section.offset.items()),
        "day": str(work.setting.sky.day_label[middle_day(work.setting.sky.ghi)]),
        "most_reach": MOST,
        "seed": work.setting.seed,
    }


PROTOCOL = Kind(word="protocol", section=ProtocolSection, carry_out=_carry_out, faults=protocol_faults)
