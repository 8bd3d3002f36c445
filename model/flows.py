"""Where a day's light goes and where its heat goes: every joule of one design, booked by surface, node and way out.

Light is booked where the ray tracer ends it, heat where the march of the heat balance says it went, each over the
whole day and over the hour in which the pot takes in most. Both books close: what comes is what goes and what stays.
"""

from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .catalogue import Catalogue
from .design import Design, table_of
from .food import boiling_temperature
from .heat import Build, Flow, Histories, Node
from .heat.water import SPECIFIC_HEAT
from .lanes import HOUR, Lanes
from .light import Surface, cover_shares, dome_shares_at
from .meal import load_of
from .pack import build_of, fits, materials_of, optics_of_design
from .sky import Sky
from .sunlight import POT, Traced, traced

Floats = NDArray[np.float64]

SOURCES = ("beam", "sky", "ground")
SPANS = ("whole day", "sunniest hour")


def flows_of_day(
    design: Design, sky: Sky, day: int, *, catalogue: Catalogue, rays: int = 32, seed: int = 1
) -> xr.Dataset:
    """The books of light and heat of one day.

    Parameters
    ----------
    design : Design
        One that can be built.
    sky : Sky
    day : int
        Of the sky.
    rays, seed : int
        As for `simulate`; with the same, these are the sums of its histories.

    Returns
    -------
    Dataset over span ("whole day", "sunniest hour")
        `light_arriving` [J] by source; `light_ending` [J] by source and surface; `light_sent_back` [J], what of the
        beam the cover over the mouth throws back before it enters (nan: the cover lies deeper, where this cannot be
        told apart); `heat_flow` [J], the energy book, by flow; `heat_kept` [J] by node; `span_from`, `span_to` [s].

    Raises
    ------
    ValueError
        The design cannot be built or aimed; its status.
    """
    table = table_of([design])
    materials, load = materials_of(table, catalogue), load_of(table, catalogue.foods)
    light = traced(table, materials, sky, fits(table), rays=rays, seed=seed)
    if light.status[0] != 0:
        raise ValueError(f"the design cannot be run: status {int(light.status[0])}")
    lanes = Lanes(np.zeros(1, np.int64), light, sky, table)
    boiling = float(boiling_temperature(sky.place.pressure))
    build = build_of(
        table, materials=materials, exchange=light.exchange, load=load, boiling_temperature=boiling
    )
    spans = [(0, sky.steps), _sunniest_hour(lanes.absorbed()[0, day, :, 0])]
    watts = _watts(light, sky, day, float(design.value("light_ratio")))
    sent_back = _sent_back(light, sky, day, design, catalogue)
    flows, kept = zip(*(_between(lanes, build, day, *span) for span in spans), strict=True)
    arriving = {"light_arriving": watts.sum(axis=-1), "light_ending": watts, "light_sent_back": sent_back}
    joules = {
        name: np.array([_joules(values, *span, step=sky.step) for span in spans])
        for name, values in arriving.items()
    }
    books = joules | {"heat_flow": np.array(flows), "heat_kept": np.array(kept)}
    return _labelled(books, sky.step * np.array(spans, np.float64))


def _sunniest_hour(into_pot: Floats) -> tuple[int, int]:
    """First and last instant of the hour of a day in which the pot takes in most; the whole day if it is shorter."""
    width = min(HOUR, len(into_pot) - 1)
    so_far = np.concatenate([[0.0], np.cumsum(0.5 * (into_pot[1:] + into_pot[:-1]))])
    first = int((so_far[width:] - so_far[:-width]).argmax())
    return first, first + width


def _watts(light: Traced, sky: Sky, day: int, light_ratio: float) -> Floats:
    """Light that reaches the mouth by where it comes from and ends, float64[instant, source, surface]. [W]

    What a built oven's pot takes less than the model says, or more, is taken from what is lost.
    """
    lights, row = light.lights, light.ways.row_of_day[day]
    elevation, up = light.ways.aim.elevation[0, row], light.ways.up[0, row, :, 2]
    facing = np.maximum(light.ways.to_sun[0, row, :, 2], 0.0)
    of_sky, of_ground = (_fogged(part, lights.clear[0]) for part in dome_shares_at(light.domes, 0, elevation))
    brought = (
        (sky.dni[day] * lights.beam_share[0] * facing, light.ends(0)[row]),
        (sky.dhi[day] * 0.5 * (1.0 + up), of_sky),
        (sky.ghi[day] * sky.albedo * 0.5 * (1.0 - up), of_ground),
    )
    watts = lights.area[0] * np.stack([power[:, None] * shares for power, shares in brought], axis=1)
    watts[..., Surface.LOST] += (1.0 - light_ratio) * watts[..., POT].sum(axis=-1)
    watts[..., POT] *= light_ratio
    return np.asarray(watts)


def _fogged(shares: Floats, clear: float) -> Floats:
    """Shares behind a cover of which fog and dust take some."""
    shares = shares * clear
    shares[:, Surface.LOST] += 1.0 - clear
    return shares


def _sent_back(light: Traced, sky: Sky, day: int, design: Design, catalogue: Catalogue) -> Floats:
    """Beam that the cover over the mouth reflects before it enters, float64[instant]; nan where it lies deeper. [W]"""
    optics, lights = optics_of_design(design, catalogue), light.lights
    facing = np.maximum(light.ways.to_sun[0, light.ways.row_of_day[day], :, 2], 0.0)
    if optics.cover_interface != 0:
        return np.full_like(facing, np.nan)
    cover = {"index": optics.cover_index, "extinction_length": optics.cover_extinction_length}
    _, back, _ = cover_shares(facing, **cover, panes=optics.cover_panes)
    power = lights.area[0] * lights.beam_share[0] * lights.clear[0] * sky.dni[day]
    return np.asarray(power * facing * back)


def _joules(watts: Floats, first: int, last: int, *, step: float) -> Floats:
    """Sum over a span of the mean of each step, as the heat balance takes it in."""
    part = watts[first : last + 1]
    return np.asarray(step * 0.5 * (part[1:] + part[:-1]).sum(axis=0))


class _Book(NamedTuple):
    """Flows [J] and heat kept in each node [J] from the day's first instant on."""

    flows: Floats
    kept: Floats


def _between(lanes: Lanes, build: Build, day: int, first: int, last: int) -> _Book:
    """The book from one instant to another."""
    before, after = (_book(lanes, build, day, instant) for instant in (first, last))
    return _Book(after.flows - before.flows, after.kept - before.kept)


def _book(lanes: Lanes, build: Build, day: int, instant: int) -> _Book:
    if instant == 0:
        return _Book(np.zeros(len(Flow)), np.zeros(len(Node)))
    hot = lanes.until(build, np.array([day]), instant)
    return _Book(hot.flows[0], _kept(build, hot, float(lanes.sky.air_temperature[day, 0])))


def _kept(build: Build, hot: Histories, air: float) -> Floats:
    """Heat in each node above the day's start, float64[node]; free water counts with the outer shell. [J]"""
    third, half_cover = build.solid_capacity[0] / 3.0, 0.5 * build.cover_capacity[0]
    capacity = np.empty(len(Node))
    capacity[[Node.OUTER, Node.MIDDLE, Node.CORE]] = third
    capacity[Node.OUTER] += hot.end_water[0] * SPECIFIC_HEAT
    capacity[[Node.COVER_INNER, Node.COVER_OUTER]] = half_cover
    for node in (Node.POT, Node.AIR, Node.SHEET, Node.INSULATION, Node.SHELL):
        capacity[node] = getattr(build, f"{node.name.lower()}_capacity")[0]
    start = np.full(len(Node), air)
    start[[Node.OUTER, Node.MIDDLE, Node.CORE]] = build.contents_start[0]
    return np.asarray(capacity * (hot.end[0] - start))


_TEXT = {
    "light_arriving": (("span", "source"), "light that reaches the mouth, by where it comes from"),
    "light_ending": (("span", "source", "surface"), "light that reaches the mouth, by where it ends"),
    "light_sent_back": (
        ("span",),
        "beam that the cover over the mouth reflects before it enters; nan where the cover lies deeper",
    ),
    "heat_flow": (("span", "flow"), "energy book: what is absorbed is what leaves and what is stored"),
    "heat_kept": (("span", "node"), "heat kept by a node, with what is in it; of water, what is left"),
}


def _labelled(books: dict[str, Floats], spans: Floats) -> xr.Dataset:
    def coordinate(name: str, words: Any, meaning: str) -> Any:
        return name, list(words), {"units": "1", "long_name": meaning}

    def instant(values: Floats, which: str) -> Any:
        return (
            "span",
            values,
            {"units": "s", "long_name": f"{which} of the span, from loading", "dimension": "time"},
        )

    return xr.Dataset(
        {
            name: (over, books[name], {"units": "J", "long_name": meaning, "dimension": "energy"})
            for name, (over, meaning) in _TEXT.items()
        },
        coords={
            "span": coordinate("span", SPANS, "part of the day that is booked"),
            "span_from": instant(spans[:, 0], "start"),
            "span_to": instant(spans[:, 1], "end"),
            "source": coordinate("source", SOURCES, "where light at the mouth comes from"),
            "surface": coordinate("surface", (s.name.lower() for s in Surface), "where beam light ends"),
            "flow": coordinate("flow", (flow.name.lower() for flow in Flow), "entry of the energy book"),
            "node": coordinate("node", (node.name.lower() for node in Node), "node of the heat balance"),
        },
    )
