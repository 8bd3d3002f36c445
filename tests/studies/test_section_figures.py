"""The drawings are to scale, the pot hangs plumb, and what they say is what the result holds."""

import dataclasses
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from matplotlib.colors import to_hex
from matplotlib.patches import Polygon

from noonhearth.studies import day as day_study
from noonhearth.studies.config import load
from noonhearth.studies.telling.drawings import section_figures
from noonhearth.studies.telling.drawings.oven_drawing import IRON, standing

BOX = {"archetype": "funnel over box", "box_across": 0.4, "box_depth": 0.24}


@pytest.fixture(scope="module")
def results() -> dict[str, xr.Dataset]:
    setting = load(Path(__file__).parents[1] / "oven.toml").setting
    setting = dataclasses.replace(setting, rays=4)
    designs = {"covered": {}, "boxed": BOX, "odd": {"facets": 7}}
    return {
        name: day_study(dataclasses.replace(setting, design=setting.design.with_factors(**factors)))
        for name, factors in designs.items()
    }


def pots(axes: Any) -> list[np.ndarray]:
    """Corners of what is drawn in the colour of the pot."""
    found = [p for p in axes.patches if isinstance(p, Polygon) and to_hex(p.get_facecolor()) == IRON]
    return [np.asarray(patch.get_xy())[:-1] for patch in found]


@pytest.mark.parametrize("oven", ["covered", "boxed", "odd"])
def test_drawings_are_to_scale_and_the_pot_is_plumb(results: dict[str, xr.Dataset], oven: str) -> None:
    for maker in (section_figures.measures, section_figures.rays):
        drawing = maker(results[oven])
        assert drawing is not None
        for axes in drawing.figure.axes:
            assert axes.get_aspect() == 1.0
        (pot,) = pots(drawing.figure.axes[0])
        wide, tall = np.ptp(pot, axis=0)
        assert (wide, tall) == pytest.approx((0.18, 0.14))  # upright though the oven leans


def test_a_leaning_oven_looks_at_the_sun(results: dict[str, xr.Dataset]) -> None:
    """With the axis 60 degrees from upright its direction on paper is (sin 60, cos 60), and y is square to it."""
    one = results["covered"].isel(design=0)
    placed = standing(one, math.radians(60))
    foot, head, up = (placed(np.array(point)) for point in ([0.0, 0.0], [0.0, 1.0], [1.0, 0.0]))
    np.testing.assert_allclose(head - foot, [math.sqrt(3) / 2, 0.5], atol=1e-12)
    np.testing.assert_allclose(up - foot, [-0.5, math.sqrt(3) / 2], atol=1e-12)
    pivot = placed(np.array([0.0, 0.05 + 0.07]))  # lift and half the height of the pot
    np.testing.assert_allclose(pivot, [0.0, float(one["axis_height"])], atol=1e-12)


def test_light_on_the_axis_comes_in_along_the_axis(results: dict[str, xr.Dataset]) -> None:
    drawing = section_figures.rays(results["covered"])
    assert drawing is not None
    tilt = float(results["covered"]["moment_tilt"][0])
    towards = -np.array([math.sin(tilt), math.cos(tilt)])
    seen = 0
    for line in drawing.figure.axes[0].lines:
        points = np.asarray(line.get_xydata())
        if line.get_linewidth() != 0.7:
            continue
        first = points[1] - points[0]
        np.testing.assert_allclose(first / np.linalg.norm(first), towards, atol=1e-9)
        seen += 1
    assert seen == int(results["covered"]["ray_in_section"].sum())


@pytest.mark.parametrize(
    ("oven", "told"),
    [
        (
            "covered",
            {
                "mouth, across the flats": 600.0,
                "back plate, across the flats": 600 - 600 * math.tan(math.pi / 6),
            },
        ),
        (
            "boxed",
            {"box, side of its square inside": 400.0, "box, floor to cover": 240.0, "insulation": 50.0},
        ),
    ],
)
def test_measures_are_those_of_the_design(
    results: dict[str, xr.Dataset], oven: str, told: dict[str, float]
) -> None:
    drawing = section_figures.measures(results[oven])
    assert drawing is not None
    table = drawing.table.set_index("measure")["length [mm]"]
    for name, length in told.items():
        assert table[name] == pytest.approx(length)
    texts = {text.get_text().strip() for text in drawing.figure.axes[0].texts}
    assert {"600 mm", "180 mm", "140 mm"} <= texts


def test_measures_in_inches(results: dict[str, xr.Dataset]) -> None:
    drawing = section_figures.measures(results["covered"].assign_attrs(shown_in="inch"))
    assert drawing is not None
    assert drawing.table.set_index("measure")["length [in]"]["mouth, across the flats"] == pytest.approx(
        600 / 25.4
    )
    assert "23.62 in" in {text.get_text().strip() for text in drawing.figure.axes[0].texts}


def test_every_measure_line_is_as_long_as_it_says(results: dict[str, xr.Dataset]) -> None:
    for result in results.values():
        for measure in section_figures.measures_of(result.isel(design=0)):
            assert math.dist(measure.start, measure.end) == pytest.approx(measure.length), measure.name


def test_the_table_and_caption_count_what_ends_on_the_pot(results: dict[str, xr.Dataset]) -> None:
    day = results["covered"]
    drawing = section_figures.rays(day)
    assert drawing is not None
    ends = drawing.table.groupby(["moment", "ray"])["ends on"].first()
    names = day["surface"].to_numpy()
    for k, moment in enumerate(day["moment"].to_numpy()):
        assert ends[moment].tolist() == names[day["ray_ends"][k].to_numpy()].tolist()
        pot = int(ends[moment].isin(["lid", "side", "bottom"]).sum())
        assert f"{pot} of {day.sizes['ray']} rays end on the pot" in drawing.caption
    corners = np.isfinite(day["ray_path"].to_numpy()[..., 0]).sum()
    assert len(drawing.table) == corners


def test_results_from_before_have_no_such_figures(results: dict[str, xr.Dataset]) -> None:
    old = results["covered"].drop_vars(["outline", "ray_path"])
    assert section_figures.measures(old) is None
    assert section_figures.rays(old) is None
