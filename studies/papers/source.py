"""What papers are made of: the design of a config or of a result, or any other design that the result keeps."""

import dataclasses
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import xarray as xr

from ...model import Design, Workshop
from ..asking.quantity import System
from ..config import Plan, load
from ..kinds.aiming import AimingStudySection
from ..results.reader import OpenedResult, open_result
from ..results.store import StoreError, read
from ..setting import Setting
from .sight_plate import Plate, plate_for, plate_of, usual_sight

ROWS = ("trial", "design")  # dimensions along which results keep designs
LISTED = 12  # numbers named at most where one is not known


class UnknownDesign(ValueError):
    """A number that is none of the designs of a source; the message says which there are."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """A design to build, with all that its papers need.

    Parameters
    ----------
    setting : Setting
        With that design.
    workshop : Workshop
    sight : AimingStudySection
        The aiming study of the plan, or the usual one: how high the post of the sight is, and what counts as centred.
    aiming : Dataset, optional
        An aiming study of just this design, already made.
    """

    setting: Setting
    workshop: Workshop
    sight: AimingStudySection
    aiming: xr.Dataset | None = None

    @property
    def plate(self) -> Plate:
        """Of the sight: from the aiming study where there is one, else traced for the design."""
        return plate_of(self.aiming) if self.aiming is not None else plate_for(self.setting, self.sight)


def source_of(path: Path, *, design: int | None = None, units: System | None = None) -> Source:
    """The design of a config, or the one that a result is about or chose, or the one of that number in the result.

    Parameters
    ----------
    path : Path
        A config (.toml) or a result (.nc).
    design : int, optional
        Number of a trial of a search, or of a design of a pool.
    units : "metric" or "inch", optional
        Of the papers; as the config has them if not given.

    Raises
    ------
    ConfigError, StoreError
        No such file, or none that papers can be made of.
    UnknownDesign
        The source has no such design, or it could not be built.
    """
    if path.suffix == ".toml":
        if design is not None:
            raise UnknownDesign(
                f"{path} describes one design: leave --design out, or name a result of a search"
            )
        plan = load(path)
        setting, aiming = plan.setting, None
    else:
        opened = open_result(path)
        setting = opened.outcome if design is None else _numbered(opened, design)
        plan = opened.plan
        aiming = _aiming_of(path, opened.dataset, setting.design)
    if units is not None:
        setting = dataclasses.replace(setting, shown_in=units)
    return Source(setting=setting, workshop=plan.workshop, sight=_sight_of(plan), aiming=aiming)


def _numbered(opened: OpenedResult, number: int) -> Setting:
    """The setting with the design of that number in a result."""
    dataset = opened.dataset
    varied = [vary.name for vary in opened.step.varies]
    rows = next((name for name in ROWS if name in dataset["status"].dims), "")
    names = [name for name in varied if name in dataset and dataset[name].dims == (rows,)]
    if not names:
        raise UnknownDesign(
            f"{opened.path} keeps no designs by number: leave --design out, or name a result of a search"
        )
    count = dataset.sizes[rows]
    if not 0 <= number < count:
        raise UnknownDesign(f"{opened.path} has designs 0 to {count - 1}, not {number}{_front(dataset)}")
    one = dataset.isel({rows: number})
    if (one["status"] != 0).all():
        raise UnknownDesign(
            f"design {number} of {opened.path} cannot be built: the model stopped on it{_front(dataset)}"
        )
    values = {name: one[name].item() for name in names}
    return dataclasses.replace(opened.setting, design=opened.setting.design.with_factors(**values))


def _front(dataset: xr.Dataset) -> str:
    """Which designs are worth asking for, as the end of a sentence."""
    if "on_front" not in dataset or not dataset["on_front"].any():
        return ""
    best = np.flatnonzero(dataset["on_front"].to_numpy()).tolist()
    more = f" and {len(best) - LISTED} more" if len(best) > LISTED else ""
    return f"; on the front are {', '.join(map(str, best[:LISTED]))}{more}"


def _sight_of(plan: Plan) -> AimingStudySection:
    sections = [step.section for step in plan.steps if isinstance(step.section, AimingStudySection)]
    return sections[0] if sections else usual_sight()


def _aiming_of(path: Path, dataset: xr.Dataset, design: Design) -> xr.Dataset | None:
    """The aiming study of just this design of the same plan: the result itself, or one that lies beside it."""
    beside = [dataset]
    for other in sorted(path.parent.glob("aiming*.nc")):
        try:
            beside.append(read(other))
        except StoreError:  # a damaged neighbour is no part of what was asked for
            continue
    wanted = json.dumps({name: design.value(name) for name in design.factors})
    same = (
        one
        for one in beside
        if one.attrs.get("study") == "aiming"
        and one.attrs.get("config") == dataset.attrs.get("config")
        and one.attrs.get("design") == wanted
    )
    return next(same, None)
