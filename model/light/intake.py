"""Where light that reaches the mouth ends: sunbeam, sky and ground.

Shares are of the power that arrives on the mouth plane, at the outer face of a cover
lying there. Columns follow `Surface`; each row sums to 1.

One kernel call takes many ovens, each over a run of rows of directions. It lets go of the
interpreter, so that threads trace side by side; what becomes of an oven does not depend
on the others of its call.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Ints, Optics, Surface
from .ovens import side_by_side
from .rays import BLOCK, Rays, no_rays
from .sampling import Sample, sample
from .scene import InSunlight, Scene, Scenes, in_sunlight, scene_of
from .starts import enter, set_off_from_dome, set_off_from_sun, spread_over_mouth
from .trace import trace

_SURFACES = len(Surface)
_NO_PATHS = np.empty((0, 0, 3))


class Runs(NamedTuple):
    """What one call traces: ovens, each over rows of directions; results stand run behind run."""

    oven: Ints  # [run]
    first: Ints  # [run] row
    last: Ints  # [run] row behind the last one

    @property
    def rows(self) -> Ints:
        """How many rows each run has. int64[run]"""
        return np.asarray(self.last - self.first)


def runs_of(oven: ArrayLike, group: ArrayLike, sizes: ArrayLike) -> Runs:
    """Ovens over groups of rows, given how many rows each group has."""
    rows, of_run = np.asarray(sizes, np.int64), np.asarray(group, np.int64)
    ends = np.cumsum(rows)
    return Runs(np.array(oven, np.int64), (ends - rows)[of_run], ends[of_run])


@kernel
def _trace_beam(
    scene: Scene,
    sine: float,
    rays: Rays,
    rows: tuple[Array, Array],
    sample: Sample,
    shares: Array,
    paths: Array,
) -> None:
    """Power of the beam into one oven by row and surface, in rays; rows are suns and the pot's axes."""
    suns, ups = rows
    total = sample.each * suns.shape[0]
    for first in range(0, total, BLOCK):
        numbers = first, min(first + BLOCK, total)
        set_off_from_sun(rays, sample, numbers, suns, sine)
        spread_over_mouth(scene, rays, sample, numbers)
        enter(scene, rays, sample, numbers, ups, shares, paths)
        trace(scene, rays, sample, shares, paths)


@kernel
def beam_kernel(
    scenes: Scenes,
    sines: Array,
    runs: Runs,
    rows: tuple[Array, Array],
    sample: Sample,
    shares: Array,
    paths: Array,
) -> None:
    """Power of the beam by row of all runs and surface, in rays; `sines` are those of the sun's half angle."""
    suns, ups = rows
    rays, done = no_rays(scenes.top.shape[1]), 0
    for run in range(runs.oven.shape[0]):
        oven, first, last = runs.oven[run], runs.first[run], runs.last[run]
        own = shares[done : done + last - first]
        part = suns[first:last], ups[first:last]
        _trace_beam(scene_of(scenes, oven), sines[oven], rays, part, sample, own, paths)
        done += last - first


@kernel
def _trace_dome(scene: Scene, rays: Rays, ups: Array, sample: Sample, ground: bool, shares: Array) -> None:
    """Power of even diffuse light into one oven by row and surface, in rays."""
    paths = np.empty((0, 0, 3))
    total = sample.each * ups.shape[0]
    for first in range(0, total, BLOCK):
        numbers = first, min(first + BLOCK, total)
        set_off_from_dome(rays, sample, numbers, ups, ground)
        spread_over_mouth(scene, rays, sample, numbers)
        enter(scene, rays, sample, numbers, ups, shares, paths)
        trace(scene, rays, sample, shares, paths)


@kernel
def dome_kernel(scenes: Scenes, runs: Runs, ups: Array, sample: Sample, ground: bool, shares: Array) -> None:
    """Power of even diffuse light by row of all runs and surface, in rays: from the sky or from the ground."""
    rays, done = no_rays(scenes.top.shape[1]), 0
    for run in range(runs.oven.shape[0]):
        first, last = runs.first[run], runs.last[run]
        own = shares[done : done + last - first]
        _trace_dome(scene_of(scenes, runs.oven[run]), rays, ups[first:last], sample, ground, own)
        done += last - first


def directions(name: str, value: ArrayLike) -> Array:
    """`value` as float64[row, xyz] of unit vectors.

    Raises
    ------
    ValueError
        If it has another shape, or a length that differs from 1 by more than 1e-6.
    """
    rows = np.ascontiguousarray(value, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] != 3:
        raise ValueError(f"{name} has shape {rows.shape}, needs (rows, 3)")
    length = np.sqrt(np.square(rows).sum(axis=1))
    if not np.all(np.abs(length - 1.0) < 1e-6):
        raise ValueError(f"{name} needs unit vectors, has lengths {length.min()} to {length.max()}")
    return np.asarray(rows / length[:, None])


def sun_and_pot(to_sun: ArrayLike, pot_up: ArrayLike) -> tuple[Array, Array]:
    """Both as float64[row, xyz] of unit vectors.

    Raises
    ------
    ValueError
        As `directions`, and if one has more rows than the other.
    """
    suns, ups = directions("to_sun", to_sun), directions("pot_up", pot_up)
    if suns.shape != ups.shape:
        raise ValueError(f"to_sun has {len(suns)} rows, pot_up {len(ups)}")
    return suns, ups


def one_run(rows: int) -> Runs:
    """The first oven over all rows."""
    return runs_of([0], [0], [rows])


def beam_shares(optics: Optics, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, seed: int = 1) -> Array:
    """Share of the sunbeam at the mouth that each surface takes, float64[time, surface]. [-]

    The rows share one low-discrepancy sequence: each is well covered by its own rays,
    and means over neighbouring rows converge as if all rays were one sample. The same
    points serve every design. Rows in the order of time are meant; rows that are a Sobol
    sequence themselves would march in step with the rays.

    Parameters
    ----------
    to_sun : float64[time, xyz]
        Unit vectors to the middle of the sun, oven frame; with z <= 0 all is lost.
    pot_up : float64[time, xyz]
        The pot's axis (world vertical) in the oven frame.
    rays : int
        Rays of each row; powers of two cover best.
    seed : int
        Shifts the sequence and its hashed choices; above 0.

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.
    """
    rows = sun_and_pot(to_sun, pot_up)
    oven = in_sunlight(side_by_side([optics]))
    return beam_shares_in_runs(oven, one_run(len(rows[0])), *rows, rays=rays, seed=seed)


def beam_shares_in_runs(
    ovens: InSunlight, runs: Runs, suns: Array, ups: Array, *, rays: int, seed: int
) -> Array:
    """What `beam_shares` gives for every run, one behind the other, float64[row of a run, surface]. [-]

    Parameters
    ----------
    suns, ups : float64[row, xyz]
        As `sun_and_pot` gives them.

    Raises
    ------
    ValueError
        If there is no ray, or the seed is out of range.
    """
    chosen = sample(int(runs.rows.max(initial=0)), rays=rays, seed=seed)
    shares = np.zeros((int(runs.rows.sum()), _SURFACES))
    beam_kernel(ovens.scenes, ovens.sine, runs, (suns, ups), chosen, shares, _NO_PATHS)
    shares /= rays
    return shares


def dome_shares(
    optics: Optics,
    *,
    pot_up: ArrayLike,
    rays: int,
    ground_rays: int | None = None,
    seed: int = 1,
) -> tuple[Array, Array]:
    """Shares of evenly bright sky and of evenly bright ground, float64[tilt, surface] each. [-]

    Each is of the power that its own part of the hemisphere over the mouth sends through
    the mouth plane: (1 + cos tilt) / 2 of an even hemisphere for the sky, the rest for the
    ground. An oven that looks straight up sees no ground; its ground row is all lost.

    Parameters
    ----------
    pot_up : float64[tilt, xyz]
        World vertical in the oven frame, which is also the pot's axis.
    rays : int
        Rays of each row and each part.
    ground_rays : int, optional
        Rays of the ground's part, if it needs fewer than the sky's.

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.
    """
    ups = directions("pot_up", pot_up)
    oven = in_sunlight(side_by_side([optics]))
    ground_rays = rays if ground_rays is None else ground_rays
    return dome_shares_in_runs(oven, one_run(len(ups)), ups, rays=rays, ground_rays=ground_rays, seed=seed)


def dome_shares_in_runs(
    ovens: InSunlight, runs: Runs, ups: Array, *, rays: int, ground_rays: int, seed: int
) -> tuple[Array, Array]:
    """What `dome_shares` gives for every run, one behind the other, float64[row of a run, surface] each. [-]

    Parameters
    ----------
    ups : float64[row, xyz]
        As `directions` gives them.

    Raises
    ------
    ValueError
        If there is no ray, or the seed is out of range.
    """
    parts = []
    for ground, each in ((False, rays), (True, ground_rays)):
        chosen = sample(int(runs.rows.max(initial=0)), rays=each, seed=seed)
        shares = np.zeros((int(runs.rows.sum()), _SURFACES))
        dome_kernel(ovens.scenes, runs, ups, chosen, ground, shares)
        parts.append(shares / each)
    return parts[0], parts[1]


def walk(
    optics: Optics, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, points: int = 40, seed: int = 1
) -> Array:
    """Corners of the paths of a few sun rays, float64[ray, point, xyz]; nan after the end. [m]

    The rays are those of `beam_shares` for one row. A path starts on the mouth plane and
    shows its first `points` corners, openings between cells included.

    Parameters
    ----------
    to_sun, pot_up : float64[xyz]

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.
    """
    rows = sun_and_pot(np.atleast_2d(to_sun), np.atleast_2d(pot_up))
    chosen = sample(len(rows[0]), rays=rays, seed=seed)
    oven = in_sunlight(side_by_side([optics]))
    paths = np.full((rays, points, 3), np.nan)
    shares = np.zeros((len(rows[0]), _SURFACES))
    beam_kernel(oven.scenes, oven.sine, one_run(len(rows[0])), rows, chosen, shares, paths)
    return paths
