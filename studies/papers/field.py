"""All papers for the field in a folder: aiming, meals, the sight's plate, the drive, a log form."""

import math
from collections.abc import Iterator
from pathlib import Path

from ...model import DANGER_HIGH, DANGER_LOW
from ..asking.quantity import System, show
from ..setting import Setting
from .drive_sheet import CAUTIONS as DRIVE_CAUTIONS
from .drive_sheet import cell_note, drive_table, travel_table
from .field_pages import Printed, write_sight, write_tables
from .field_tables import meal_table, settings_table, sun_pages, sun_table
from .log_form import write_log_form
from .measures import length_words
from .sight_plate import Plate, plate_for, usual_sight

EYES = ("Look at the shadow on the sight, never at the sun or into the mirrors.",)


def write_field_papers(
    setting: Setting,
    folder: Path,
    *,
    paper: str = "A4",
    system: System | None = None,
    plate: Plate | None = None,
) -> list[str]:
    """Write the papers; what each is for, in sentences.

    Parameters
    ----------
    setting : Setting
        With the design that is used.
    folder : Path
    paper : "A4" or "Letter"
    system : "metric" or "inch", optional
        Units of the papers; as the setting has it if not given.
    plate : Plate, optional
        Of the sight, as an aiming study or `plate_for` gives it; one with the usual post if not given.
    """
    system = system or setting.shown_in
    folder.mkdir(parents=True, exist_ok=True)
    tables = list(_tables(setting, system))
    for name, table in tables:
        table.frame.to_csv(folder / f"{name}.csv", index=False)
    printed = [one for name, table in tables for one in (_by_month(table) if name == "sun" else [table])]
    pages = write_tables(printed, folder / "tables.pdf", paper)
    plate = plate or plate_for(setting, usual_sight())
    write_sight(plate, folder / "sight-plate.pdf", paper, about=_about(setting, system), system=system)
    write_log_form(folder, paper, meal=setting.design.meal, system=system)
    count = "1 page" if pages == 1 else f"{pages} pages"
    titles = ", ".join(table.title[0].lower() + table.title[1:] for _, table in tables)
    return [
        f"tables.pdf, {count}: {titles}; each also as CSV.",
        "sight-plate.pdf: the plate of the aiming sight at full size; measure its bars after printing.",
        "log-form.pdf: what to write down during a test cook; log-form.csv to type it into, log-form.toml reads that.",
    ]


def _about(setting: Setting, system: System) -> str:
    funnel = setting.design.oven.funnel
    mouth, angle = length_words(funnel.mouth, system), math.degrees(funnel.facet_angle)
    return (
        f"Oven of {funnel.facets} facets at {angle:.1f} deg with a mouth of {mouth}; others have other rings."
    )


def _tables(setting: Setting, system: System) -> Iterator[tuple[str, Printed]]:
    place = setting.sky.place.name
    yield "sun", Printed(f"Sun over {place}, by its clock", sun_table(setting), EYES)
    yield "settings", Printed("When to set the oven", settings_table(setting), EYES)
    yield "meals", Printed("When to put the food in", meal_table(setting), food_cautions(setting, system))
    drive = drive_table(setting, system)
    if len(drive):
        yield "drive", Printed("Settings of the drive", drive, (cell_note(setting), *DRIVE_CAUTIONS))
        title = "Way of the base's edge in the five minutes from a clock time on, as the sun goes"
        yield (
            "travel",
            Printed(
                title,
                travel_table(setting, system),
                ("A drive waits and then runs: compare over half an hour.",),
            ),
        )


def _by_month(table: Printed) -> list[Printed]:
    """The sun's table for print, the caution under the last month."""
    months = [Printed(f"{table.title}, {month}", page) for month, page in sun_pages(table.frame)]
    return [*months[:-1], months[-1]._replace(cautions=table.cautions)]


def food_cautions(setting: Setting, system: System) -> tuple[str, ...]:
    """What to mind of the food, under the table that says when to put it in."""
    low, high = (show(limit, "temperature", system) for limit in (DANGER_LOW, DANGER_HIGH))
    own = setting.catalogue.foods[setting.design.meal.food].cautions
    return (
        "These are a model's times: check the coldest place of the food with a thermometer before anybody eats.",
        f"Throw away what stood between {low} and {high} for more than two hours.",
        "Local codes on food have the last word.",
        *own,
    )
