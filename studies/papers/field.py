"""All papers for the field in a folder: aiming, meals, the sight's plate, the drive, a log form."""

from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from ..kinds.aiming import AIMING
from ..setting import Setting
from .field_pages import write_log_form, write_sight, write_tables
from .field_tables import drive_table, meal_table, settings_table, sun_pages, sun_table

SENSORS = (
    "clock",
    "food [degC]",
    "pot [degC]",
    "air [degC]",
    "sun [W/m2]",
    "wind [m/s]",
    "aimed, stirred, cloud ...",
)
HEADING = (
    "oven, and what was changed since the last cook",
    "date and place",
    "who, with which instruments",
    "food, mass, water, temperature when put in",
    "cover, mirrors: clean, dusty, steamed up",
    "done at, by which sign",
)


def write_field_papers(setting: Setting, folder: Path, *, paper: str = "A4") -> list[str]:
    """Write the papers; what each is for, in sentences."""
    folder.mkdir(parents=True, exist_ok=True)
    tables = list(_tables(setting))
    for name, _, frame in tables:
        frame.to_csv(folder / f"{name}.csv", index=False)
    first, *others = [(title, frame) for _, title, frame in tables]
    suns = [(f"{first[0]}, {month}", page) for month, page in sun_pages(first[1])]
    pages = write_tables([*suns, *others], folder / "tables.pdf", paper)
    write_sight(AIMING(setting), folder / "sight-plate.pdf", paper)
    write_log_form(folder / "log-form.pdf", paper, sensors=SENSORS, heading=HEADING)
    return [
        f"tables.pdf, {pages} pages: {', '.join(title.lower() for _, title, _ in tables)}; each also as CSV.",
        "sight-plate.pdf: the plate of the aiming sight at full size; measure its bar after printing.",
        "log-form.pdf: what to write down during a test cook.",
    ]


def _tables(setting: Setting) -> Iterator[tuple[str, str, pd.DataFrame]]:
    place = setting.sky.place.name
    yield "sun", f"Sun over {place}, by its clock", sun_table(setting)
    yield "settings", "When to set the oven", settings_table(setting)
    yield "meals", "When to put the food in", meal_table(setting)
    drive = drive_table(setting)
    if len(drive):
        yield "drive", "Settings of the drive", drive
