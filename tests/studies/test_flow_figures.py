"""Ribbons are as wide as what flows, print every amount, and close; of the day's flows and of made-up ones."""

import math
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from matplotlib.figure import Figure

from noonhearth.studies import day as day_study
from noonhearth.studies.config import load
from noonhearth.studies.telling.drawings.drawing import Drawn
from noonhearth.studies.telling.drawings.flow_figures import (
    heat_flows,
    heat_ribbons,
    light_flows,
    light_ribbons,
)
from noonhearth.studies.telling.drawings.ribbons import Ribbon, draw_ribbons
from noonhearth.studies.telling.words.flow_words import flow_sentences

BOX = {"archetype": "funnel over box", "box_across": 0.4, "box_depth": 0.24}


@pytest.fixture(scope="module")
def results() -> dict[str, xr.Dataset]:
    import dataclasses

    setting = load(Path(__file__).parents[1] / "oven.toml").setting
    setting = dataclasses.replace(setting, rays=4)
    boxed = dataclasses.replace(setting, design=setting.design.with_factors(**BOX))
    return {"covered": day_study(setting), "boxed": day_study(boxed)}


def widths(figure: Figure, panel: int) -> dict[str, list[tuple[float, float]]]:
    """Width of every piece of every ribbon at both of its ends, read from what is drawn."""
    found: dict[str, list[tuple[float, float]]] = {}
    for patch in figure.axes[panel].patches:
        if patch.get_gid():
            corners: Any = patch.get_path().vertices
            ends = float(corners[7, 1] - corners[0, 1]), float(corners[4, 1] - corners[3, 1])
            found.setdefault(str(patch.get_gid()), []).append(ends)
    return found


@pytest.mark.parametrize("oven", ["covered", "boxed"])
@pytest.mark.parametrize(("draw", "ribbons_of"), [(light_flows, light_ribbons), (heat_flows, heat_ribbons)])
def test_ribbons_are_as_wide_as_the_energy(
    results: dict[str, xr.Dataset], oven: str, draw: Any, ribbons_of: Any
) -> None:
    drawing: Drawn = draw(results[oven])
    for panel, span in enumerate(("whole day", "sunniest hour")):
        drawn = widths(drawing.figure, panel)
        for ribbon in ribbons_of(results[oven].sel(span=span)):
            ends = drawn.pop(f"{ribbon.source}>{ribbon.target}", [])
            assert len(ends) > 0 or ribbon.amount == 0
            np.testing.assert_allclose(ends, ribbon.amount, rtol=1e-9, atol=1e-6)
        assert drawn == {}


@pytest.mark.parametrize("oven", ["covered", "boxed"])
@pytest.mark.parametrize("draw", [light_flows, heat_flows])
def test_every_station_passes_on_what_comes(results: dict[str, xr.Dataset], oven: str, draw: Any) -> None:
    table = draw(results[oven]).table
    energy = next(name for name in table if name.startswith("energy"))
    for _, span in table.groupby("span"):
        comes, goes = span.groupby("to")[energy].sum(), span.groupby("from")[energy].sum()
        through = comes.index.intersection(goes.index)
        assert len(through) > 0
        np.testing.assert_allclose(comes[through], goes[through], rtol=1e-9)
        ends, starts = comes.drop(through).sum(), goes.drop(through).sum()
        assert ends == pytest.approx(starts, rel=1e-9)
        shares = span[~span["from"].isin(comes.index)]["of all that comes [%]"].sum()
        assert shares == pytest.approx(100.0, rel=1e-9)


def test_the_ribbons_are_those_of_the_book(results: dict[str, xr.Dataset]) -> None:
    one = results["covered"].sel(span="whole day")
    amounts = {(r.source, r.target): r.amount for r in heat_ribbons(one)}
    flow = one["heat_flow"]
    assert amounts["food", "steam"] == float(flow.sel(flow="steam"))
    assert amounts["light into pot", "pot"] == float(flow.sel(flow="pot_absorbed"))
    assert amounts["cover", "cover to the sky"] == float(flow.sel(flow="cover_radiation"))
    light = {r.target: r.amount for r in light_ribbons(one)}
    ending = one["light_ending"].sum("source")
    assert light["pot: side"] == float(ending.sel(surface="side"))
    lost = float(ending.sel(surface="lost"))
    assert light["cover sends back"] + light["out again or beside"] == pytest.approx(lost, rel=1e-12)
    assert light["cover sends back"] == float(one["light_sent_back"])


def test_every_amount_is_printed(results: dict[str, xr.Dataset]) -> None:
    drawing = heat_flows(results["covered"])
    assert drawing is not None
    texts = "\n".join(text.get_text() for text in drawing.figure.axes[0].texts)
    day = drawing.table[drawing.table["span"] == "whole day"]
    for _, row in day.iterrows():
        assert f"{row['energy [kJ]']:.0f} kJ, {row['of all that comes [%]']:.1f} %" in texts, tuple(row)


def test_what_runs_backwards_is_turned_round() -> None:
    """A pot that the oven warms: 10 J of light into it, 30 J into the food, so 20 J come from the oven."""
    flows = dict.fromkeys(
        ("steam", "leak", "cover_convection", "cover_radiation", "shell_convection", "shell_radiation"), 0.0
    )
    flows |= {"pot_absorbed": 10.0, "sheet_absorbed": 25.0, "cover_absorbed": 0.0, "steam": 30.0, "leak": 8.0}
    flows |= {"shell_convection": -3.0, "stored": 0.0}
    kept = dict.fromkeys(("outer", "middle", "core", "pot", "air", "sheet", "insulation", "shell"), 0.0)
    kept |= {"cover_inner": 0.0, "cover_outer": 0.0}
    one = xr.Dataset(
        {"heat_flow": ("flow", list(flows.values())), "heat_kept": ("node", list(kept.values()))},
        coords={"flow": list(flows), "node": list(kept)},
    )
    found = {(r.source, r.target): r.amount for r in heat_ribbons(one) if r.amount}
    assert found["air and inner walls", "pot"] == 20.0
    assert found["pot", "food"] == 30.0
    assert found["from outside", "insulation and skin"] == 3.0
    assert found["insulation and skin", "air and inner walls"] == 3.0
    assert found["air and inner walls", "leak of warm air"] == 8.0


def test_a_passing_ribbon_keeps_its_width_and_no_two_touch() -> None:
    """Three columns: a to b to c, and a straight to c, which has a lane beside b."""
    figure = Figure()
    axes = figure.subplots()
    made = [Ribbon("a", "b", 3.0), Ribbon("b", "c", 3.0), Ribbon("a", "c", 2.0), Ribbon("a", "d", 0.0)]
    draw_ribbons(axes, made, order=["a", "b", "c", "d"], colours={}, text=lambda amount: f"{amount:g} J")
    drawn = widths(figure, 0)
    assert np.array(drawn["a>c"]) == pytest.approx(np.full((2, 2), 2.0))
    assert "a>d" not in drawn
    pieces = [
        patch.get_path().vertices for patch in axes.patches if patch.get_gid() and patch.get_gid()[0] == "a"
    ]
    spans = sorted((float(v[3, 1]), float(v[4, 1])) for v in np.array([p for p in pieces if p[3, 0] == 1.0]))
    assert len(spans) == 2
    assert spans[0][1] < spans[1][0]  # room between them where b stands
    texts = {text.get_text() for text in axes.texts}
    assert {"a\n5 J", "b: 3 J", "c: 5 J"} <= texts


def test_results_from_before_have_no_such_figures(results: dict[str, xr.Dataset]) -> None:
    old = results["covered"].drop_vars(["light_ending", "heat_flow"])
    assert light_flows(old) is None
    assert heat_flows(old) is None
    assert math.isfinite(float(results["covered"]["light_ending"].sum()))


def test_the_sentences_say_what_the_ribbons_show(results: dict[str, xr.Dataset]) -> None:
    day = results["covered"]
    light, heat = flow_sentences(day)
    table = light_flows(day).table.set_index(["span", "to"]).loc["whole day"]["of all that comes [%]"]  # type: ignore[union-attr]
    in_pot = sum(table[f"pot: {part}"] for part in ("lid", "side", "bottom"))
    assert f"{in_pot:.0f} % went into the pot" in light
    assert (
        f"{table['out again or beside'] + table['cover sends back']:.0f} % was sent back or missed" in light
    )
    percents = [int(number) for number in re.findall(r"(-?\d+) %", light)]
    assert sum(percents) == pytest.approx(100, abs=2)  # each rounded by itself
    assert percents[:-1] == sorted(percents[:-1], reverse=True)
    flow = day["heat_flow"].sel(span="whole day")
    taken = float(flow.sel(flow=["pot_absorbed", "sheet_absorbed", "cover_absorbed"]).sum())
    assert re.search(rf"\b{100 * float(flow.sel(flow='steam')) / taken:.0f} % (went )?off as steam", heat)
    assert sum(int(number) for number in re.findall(r"(-?\d+) %", heat)) == pytest.approx(100, abs=3)
    assert flow_sentences(day.drop_vars("light_ending")) == []


@pytest.mark.parametrize("draw", [light_flows, heat_flows])
def test_ribbons_at_a_station_lie_side_by_side(results: dict[str, xr.Dataset], draw: Any) -> None:
    """What leaves a station, put end to end, is as high as what goes through it; nothing overlaps."""
    for axes in draw(results["covered"]).figure.axes:
        leaving: dict[str, list[tuple[float, float]]] = {}
        for patch in axes.patches:
            if patch.get_gid():
                corners = patch.get_path().vertices
                if corners[0, 0] != round(corners[0, 0]):  # it starts at a bar, not in a lane
                    source = patch.get_gid().partition(">")[0]
                    leaving.setdefault(source, []).append((corners[0, 1], corners[7, 1]))
        assert len(leaving) >= 3
        for spans in leaving.values():
            spans.sort()
            for (_, top), (low, _) in pairwise(spans):
                assert low == pytest.approx(top, abs=1e-6 * spans[-1][1])
