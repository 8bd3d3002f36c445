"""A form for test cooks: on paper to write on, as a table to type it into, and the [[cook]] table that reads that."""

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes

from ...model import DANGER_HIGH, DANGER_LOW, Meal
from ..asking.quantity import System, show
from .page import ABOUT, EDGE, PAPERS, STYLE, draw, paper_of
from .strokes import STOCK, Stroke, Words

ROWS = 30
LETTER = 3.0  # mm
TEMPERATURES = ("food", "pot", "air")
UNITS: dict[System, dict[str, str]] = {
    "metric": dict.fromkeys(TEMPERATURES, "degC") | {"sun": "W/m2", "wind": "m/s"},
    "inch": dict.fromkeys(TEMPERATURES, "degF") | {"sun": "W/m2", "wind": "mph"},
}
KEYS = {"food": "food", "pot": "pot", "air": "air", "sun": "irradiance", "wind": "wind"}
"""Column of the form -> key of a [[cook]] table."""
SHARES = {"clock": 0.09, "marks": 0.10, "remarks": 0.27}  # of the width; the others have what is left
HEADING = (
    "oven, and what was changed since the last cook",
    "date and place",
    "who, with which instruments, sun read level or facing it",
    "food, mass, water, temperature when put in",
    "cover, mirrors: clean, dusty, steamed up",
    "done at, by which sign",
)
HOW = (
    "clock: hours and minutes. air: outside, in the shade. marks: x where the oven was set to the sun.",
    "remarks: stirred, opened, cloud, shaded.",
)


def columns_of(system: System) -> list[str]:
    """Names of the columns, with their units."""
    measured = [f"{name} [{unit}]" for name, unit in UNITS[system].items()]
    return ["clock", *measured, "marks", "remarks"]


def form_caution(system: System) -> list[str]:
    """What to mind during a test cook."""
    low, high = (show(limit, "temperature", system).split()[0] for limit in (DANGER_LOW, DANGER_HIGH))
    unit = UNITS[system]["food"]
    return [
        "Pot, steam, glass and sheet burn: gloves. Never look into the mirrors or at the sun.",
        f"Throw away food that stood from {low} to {high} {unit} for two hours. Local codes have the last word.",
    ]


def write_log_form(folder: Path, paper: str, *, meal: Meal, system: System = "metric") -> None:
    """`log-form.pdf` to write on, `log-form.csv` to type it into, `log-form.toml` with the table that reads it."""
    columns = columns_of(system)
    (folder / "log-form.csv").write_text(",".join(columns) + "\n", "utf-8")
    (folder / "log-form.toml").write_text(cook_table(meal, system), "utf-8")
    width, height = PAPERS[paper]
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (0, 0))
        top = height - EDGE - 8
        draw([Words("Log of a test cook", (EDGE + 5, top), 1.4 * LETTER)], axes)
        begin = _heading(axes, width, top)
        _grid(axes, columns, width, begin)
        notes = [*HOW, *form_caution(system)]
        low = EDGE + 5
        draw(
            [
                Words(text, (EDGE + 5, low + 4.4 * (len(notes) - 1 - k)), 0.85 * LETTER)
                for k, text in enumerate(notes)
            ],
            axes,
        )
        figure.savefig(folder / "log-form.pdf", metadata=ABOUT)


def _heading(axes: Axes, width: float, top: float) -> float:
    """Lines to fill in above the grid; where the grid begins. [mm]"""
    for k, text in enumerate(HEADING):
        low = top - 9 - 7 * k
        ends = np.array([[EDGE + 95.0, low - 1], [width - EDGE - 5, low - 1]])
        draw([Words(f"{text}:", (EDGE + 5, low), LETTER), Stroke(STOCK, ends, closed=False)], axes)
    return top - 14 - 7 * len(HEADING)


def _grid(axes: Axes, columns: Sequence[str], width: float, begin: float) -> None:
    """Rows to write in under the names of the columns, units below the names."""
    inside = width - 2 * EDGE - 10
    plain = (1 - sum(SHARES.values())) / (len(columns) - len(SHARES))
    edges = EDGE + 5 + inside * np.cumsum([0.0, *(SHARES.get(name, plain) for name in columns)])
    end = EDGE + 26
    lines = np.concatenate([[begin], np.linspace(begin - 11, end, ROWS + 1)])
    marks: list[Stroke | Words] = []
    for y in lines:
        marks.append(Stroke(STOCK, np.array([[edges[0], y], [edges[-1], y]]), closed=False))
    for x in edges:
        marks.append(Stroke(STOCK, np.array([[x, begin], [x, end]]), closed=False))
    for name, x in zip(columns, edges, strict=False):
        what, _, unit = name.partition(" ")
        marks += [
            Words(what, (float(x) + 1, begin - 5), LETTER),
            Words(unit, (float(x) + 1, begin - 9), 0.85 * LETTER),
        ]
    draw(marks, axes)


def cook_table(meal: Meal, system: System) -> str:
    """The [[cook]] table by which a config reads the typed form, with the meal that the oven is designed for."""
    mass = show(meal.food_mass, "mass", system)
    lines = [
        "# For a config: how a filled-in log-form.csv is read. Put the date in; take out the lines of empty columns.",
        '# irradiance: add plane = "facing the sun" or "beam" where the instrument did not lie level.',
        "[[cook]]",
        'name = "first cook"',
        'files = ["log-form.csv"]',
        f'meal = {{ food = "{meal.food}", food_mass = "{mass}" }}  # what was in the pot',
        'time = { column = "clock", format = "%H:%M", day = 2026-01-31 }',
    ]
    for name, unit in UNITS[system].items():
        lines.append(f'{KEYS[name]} = {{ column = "{name} [{unit}]", unit = "{unit}" }}')
    return "\n".join([*lines, 'reaim_column = "marks"', ""])
