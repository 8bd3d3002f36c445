"""How one design is kept on the sun over the days of a sky, what that takes and what it costs: one Dataset."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .aiming import Aim, Aiming, ByHand, Drive, Fixed
from .aiming_drive import Variables, driven, from_parts
from .aiming_loss import TRUE, OffAxis, beam_into_pot, off_axis_light
from .catalogue import Catalogue, load_catalogue
from .design import Design
from .drive_parts import DriveTrain
from .drive_report import assess_drive, sunshine
from .labels import LABELS, text_of
from .sight import Sight
from .sky import Sky
from .sunlight import aimed

Floats = NDArray[np.float64]

INTERVALS = tuple(60.0 * minutes for minutes in (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240))
LOSSES = (0.02, 0.05, 0.10)  # of the beam, that the rings on the sight's plate stand for
FAST = 1.0  # rad/s; the fastest drive that can be described, which no sun outruns


def assess_aiming(
    design: Design,
    sky: Sky,
    *,
    sight: Sight,
    centred_within: float,
    cloud: float = 1800.0,
    intervals: Sequence[float] = INTERVALS,
    train: DriveTrain | None = None,
    rays: int = 32,
    seed: int = 1,
    catalogue: Catalogue | None = None,
) -> xr.Dataset:
    """The aiming of a design that can be built, beside others it could have.

    Parameters
    ----------
    sight : Sight
        By which a cook aims.
    centred_within : float   [m]
        Shadow that still counts as centred on the sight's plate.
    cloud : float   [s]
        A cloud for a drive to ride out.
    intervals : sequence of float   [s]
        Between settings by hand, to compare: of both angles, or of the elevation alone where a drive has the azimuth.
    train : DriveTrain, optional
        The drive's wheel and motor, if its speed comes from them.

    Returns
    -------
    Dataset over day, time, interval, direction, angle, loss
        Names of a drive are there for a drive alone.
    """
    catalogue = catalogue or load_catalogue()
    how: dict[str, Any] = {"catalogue": catalogue, "seed": seed}
    settings = _by_day(design.aiming, sky)
    variables = _settings(settings, design, sky)
    variables |= _kept(design, sky, intervals, rays=rays, **how)
    middle = float(np.median(settings.elevation))
    variables |= _sighted(off_axis_light(design, middle, **how), sight, centred_within, settings, middle)
    if isinstance(design.aiming, Drive):
        report = assess_drive(
            design.aiming,
            settings,
            dni=sky.dni,
            base_radius=design.oven.stand.base_radius,
            step=sky.step,
            cloud=cloud,
        )
        variables |= driven(design.aiming, report, sky)
        variables |= from_parts(report, train)
    return xr.Dataset(variables, coords=_coordinates(sky)).assign_coords(
        status=("design", np.zeros(1, np.int64), text_of("count", LABELS["status"][1]))
    )


def _by_day(aiming: Aiming, sky: Sky) -> Aim:
    """Settings with a row for every day, also where days share a course of the sun."""
    ways = aimed(aiming, sky)
    if len(ways.row_of_day) == len(ways.aim.azimuth) and isinstance(aiming, Drive):
        return ways.aim
    taken = {name: values[ways.row_of_day] for name, values in vars(ways.aim).items()}
    return Aim(**taken)


def _coordinates(sky: Sky) -> Variables:
    def label(name: str) -> dict[str, str]:
        unit, meaning = LABELS[name]
        return {"long_name": meaning} | ({"units": unit} if unit else {})

    return {
        "day": ("day", np.arange(sky.days), label("day")),
        "day_label": ("day", np.array(sky.day_label, dtype=np.str_), label("day_label")),
        "day_month": ("day", sky.day_month, label("day_month")),
        "day_weight": ("day", sky.day_weight, label("day_weight")),
        "time": ("time", sky.step * np.arange(sky.steps + 1), label("time")),
        "clock": (("day", "time"), sky.times[sky.day_path], label("clock")),
    }


def _settings(settings: Aim, design: Design, sky: Sky) -> Variables:
    """Minute by minute, and what a cook takes of time and travel."""
    over, radius = ("day", "time"), design.oven.stand.base_radius
    turned = np.abs((np.diff(settings.azimuth, axis=1) + math.pi) % (2 * math.pi) - math.pi)
    edge = radius * np.concatenate([np.zeros((sky.days, 1)), np.cumsum(turned, axis=1)], axis=1)
    shines = sunshine(sky.to_sun[sky.day_path], sky.dni)
    off_axis = np.where(shines, settings.off_axis, np.nan)
    some = shines.any(axis=1)
    worst, mean = np.full(sky.days, np.nan), np.full(sky.days, np.nan)
    worst[some], mean[some] = np.nanmax(off_axis[some], axis=1), np.nanmean(off_axis[some], axis=1)
    angle = "angle between axis and sun while it shines"
    return {
        "aim_azimuth_error": (over, settings.azimuth_error, text_of("angle", LABELS["aim_azimuth_error"][1])),
        "aim_elevation_error": (
            over,
            settings.elevation_error,
            text_of("angle", LABELS["aim_elevation_error"][1]),
        ),
        "aim_off_axis": (over, settings.off_axis, text_of("angle", LABELS["aim_off_axis"][1])),
        "edge_travelled": (over, edge, text_of("length", "way of the base's edge since the food was loaded")),
        "dni": (over, sky.dni, text_of("irradiance", LABELS["dni"][1])),
        "worst_off_axis": ("day", worst, text_of("angle", f"largest {angle}; nan: it does not")),
        "mean_off_axis": ("day", mean, text_of("angle", f"mean {angle}; nan: it does not")),
        "visits": ("day", settings.visits, text_of("count", "times a cook comes to aim")),
        "attention": ("day", settings.attention, text_of("time", "a cook's time for aiming")),
        "base_radius": ((), radius, text_of("length", "pivot to the edge of the base")),
    }


def _kept(
    design: Design, sky: Sky, intervals: Sequence[float], *, rays: int, seed: int, catalogue: Catalogue
) -> Variables:
    """Beam into the pot over that with the axis on the sun at every minute."""
    mine = design.aiming
    own = [] if isinstance(mine, Fixed) else [_interval_of(mine)]
    window = sky.step * sky.steps
    compared = np.unique([every for every in (*intervals, *own) if every <= window])
    others = [_at_interval(mine, float(every)) for every in compared]
    limits = [] if not isinstance(mine, Drive) else _limits_of(mine)
    beam = beam_into_pot(
        design, [TRUE, mine, *others, *limits], sky, rays=rays, seed=seed, catalogue=catalogue
    )
    season = beam @ sky.day_weight
    share = season[1:] / season[0] if season[0] > 0 else np.full(len(season) - 1, np.nan)
    days = np.divide(beam[1], beam[0], out=np.full(sky.days, np.nan), where=beam[0] > 0)
    settings = [_by_day(other, sky) for other in others]
    weight = sky.day_weight / sky.day_weight.sum()
    visits = np.array([one.visits @ weight for one in settings])
    kept = "beam that the pot takes in over that with the axis always on the sun"
    moved = "elevation, set by hand," if isinstance(mine, Drive) else "azimuth, set by hand,"
    variables: Variables = {
        "kept": ((), share[0], text_of("share", f"{kept}, all days")),
        "day_kept": ("day", days, text_of("share", f"{kept}; nan: no beam")),
        "interval": ("interval", compared, text_of("time", f"between settings of the {moved} to compare")),
        "interval_kept": ("interval", share[1 : 1 + len(others)], text_of("share", f"{kept}, all days")),
        "interval_visits": (
            "interval",
            visits,
            text_of("count", "times a cook comes to aim, mean of all days"),
        ),
        "interval_attention": (
            "interval",
            visits * getattr(others[0], "visit", 0.0) if others else visits,
            text_of("time", "a cook's time for aiming, mean of all days"),
        ),
    }
    if own:
        variables["own_interval"] = (
            (),
            own[0],
            text_of("time", f"between settings of the {moved} as designed"),
        )
    for name, value, text in zip(
        ("kept_fast", "kept_tilted"),
        share[1 + len(others) :],
        ("with a drive that no sun outruns", "and its elevation set every minute"),
        strict=False,
    ):
        variables[name] = ((), value, text_of("share", f"{kept}, {text}"))
    return variables


def _interval_of(aiming: ByHand | Drive) -> float:
    return aiming.elevation_every if isinstance(aiming, Drive) else aiming.azimuth_every


def _at_interval(aiming: Aiming, every: float) -> ByHand | Drive:
    """The same way of aiming with other intervals; an oven that stands still, as if it were aimed by hand."""
    if isinstance(aiming, Drive):
        return replace(aiming, elevation_every=every)
    return replace(aiming, azimuth_every=every) if isinstance(aiming, ByHand) else ByHand(azimuth_every=every)


def _limits_of(drive: Drive) -> list[Aiming]:
    """The drive with no limit to its speed, and then with no fault of its elevation either."""
    fast = replace(drive, speed=FAST)
    return [fast, replace(fast, elevation_every=60.0, lead=0.0, elevation_bias=0.0)]


def _sighted(light: OffAxis, sight: Sight, within: float, settings: Aim, middle: float) -> Variables:
    """Rings on the plate of the sight, and what a shadow centred within a length says and costs."""
    rings = np.array([light.ring(loss) for loss in LOSSES])
    angle = float(sight.within(within))
    highest = float(settings.elevation.max())
    best = np.unravel_index(int(light.kept.argmax()), light.kept.shape)
    kept = "beam that the pot takes in over that with the sun on the axis"
    return {
        "direction": (
            "direction",
            light.direction,
            text_of("angle", "where the sun stands off the axis: 0 to the right, pi/2 up the slope"),
        ),
        "angle": ("angle", light.angle, text_of("angle", "between axis and sun")),
        "off_axis_kept": (("direction", "angle"), light.kept, text_of("share", kept)),
        "off_axis_elevation": ((), middle, text_of("angle", "elevation of the axis at which it was traced")),
        "off_axis_best": (
            (),
            light.angle[best[1]],
            text_of("angle", "off the axis where the pot takes in most"),
        ),
        "off_axis_gain": ((), light.kept.max() - 1, text_of("share", "how much more the pot takes in there")),
        "loss": (
            "loss",
            np.array(LOSSES),
            text_of("share", "of the beam, that a ring of the sight stands for"),
        ),
        "ring_angle": (
            "loss",
            rings,
            text_of("angle", "within which no direction loses more; nan: further than looked at"),
        ),
        "ring_radius": (
            "loss",
            sight.length(rings),
            text_of("length", "of the ring on the plate; nan: further than looked at"),
        ),
        "post_height": ((), sight.post_height, text_of("length", "tip of the sight's post above its plate")),
        "post_width": (
            (),
            sight.least_post_width,
            text_of("length", "the post's least width for a full shade"),
        ),
        "half_shade": (
            (),
            float(sight.blur()),
            text_of("length", "width of the half-shade at the shadow's tip"),
        ),
        "centred_within": ((), within, text_of("length", "shadow that counts as centred")),
        "centred_angle": ((), angle, text_of("angle", "between axis and sun with such a shadow")),
        "centred_kept": (
            (),
            light.kept_within(angle),
            text_of("share", f"{kept}, at worst with such a shadow"),
        ),
        "centred_azimuth": (
            (),
            float(sight.azimuth_within(within, highest)),
            text_of("angle", "azimuth that such a shadow hides with the axis at its highest"),
        ),
        "highest": ((), highest, text_of("angle", "highest elevation of the axis")),
    }
