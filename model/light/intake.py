"""Where light that reaches the mouth ends: sunbeam, sky and ground.

Shares are of the power that arrives on the mouth plane, at the outer face of a cover
lying there. Columns follow `Surface`; each row sums to 1.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Optics, Surface
from .rays import BLOCK, no_rays
from .sampling import Sample, sample
from .scene import InSunlight, Scene, in_sunlight
from .starts import enter, set_off_from_dome, set_off_from_sun, spread_over_mouth
from .trace import trace

_SURFACES = len(Surface)
_NO_PATHS = np.empty((0, 0, 3))


@kernel
def beam_kernel(
    scene: Scene, sine: float, suns: Array, ups: Array, sample: Sample, shares: Array, paths: Array
) -> None:
    """Power of the beam by row and surface, in rays; `sine` is that of the sun's half angle."""
    rays = no_rays(scene.top.shape[0])
    total = sample.each * suns.shape[0]
    for first in range(0, total, BLOCK):
        numbers = first, min(first + BLOCK, total)
        set_off_from_sun(rays, sample, numbers, suns, sine)
        spread_over_mouth(scene, rays, sample, numbers)
        enter(scene, rays, sample, numbers, ups, shares, paths)
        trace(scene, rays, sample, shares, paths)


@kernel
def dome_kernel(scene: Scene, ups: Array, sample: Sample, ground: bool, shares: Array) -> None:
    """Power of even diffuse light by row and surface, in rays: from the sky or from the ground."""
    rays = no_rays(scene.top.shape[0])
    paths = np.empty((0, 0, 3))
    total = sample.each * ups.shape[0]
    for first in range(0, total, BLOCK):
        numbers = first, min(first + BLOCK, total)
        set_off_from_dome(rays, sample, numbers, ups, ground)
        spread_over_mouth(scene, rays, sample, numbers)
        enter(scene, rays, sample, numbers, ups, shares, paths)
        trace(scene, rays, sample, shares, paths)


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


def _sun_and_pot(to_sun: ArrayLike, pot_up: ArrayLike) -> tuple[Array, Array]:
    suns, ups = directions("to_sun", to_sun), directions("pot_up", pot_up)
    if suns.shape != ups.shape:
        raise ValueError(f"to_sun has {len(suns)} rows, pot_up {len(ups)}")
    return suns, ups


def beam_shares(
    optics: Optics | InSunlight, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, seed: int = 1
) -> Array:
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
    suns, ups = _sun_and_pot(to_sun, pot_up)
    chosen = sample(len(suns), rays=rays, seed=seed)
    oven = in_sunlight(optics)
    shares = np.zeros((len(suns), _SURFACES))
    beam_kernel(oven.scene, math.sin(oven.optics.sun_half_angle), suns, ups, chosen, shares, _NO_PATHS)
    return shares / rays


def dome_shares(
    optics: Optics | InSunlight,
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
    scene = in_sunlight(optics).scene
    parts = []
    for ground, each in ((False, rays), (True, rays if ground_rays is None else ground_rays)):
        shares = np.zeros((len(ups), _SURFACES))
        dome_kernel(scene, ups, sample(len(ups), rays=each, seed=seed), ground, shares)
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
    suns, ups = _sun_and_pot(np.atleast_2d(to_sun), np.atleast_2d(pot_up))
    chosen = sample(len(suns), rays=rays, seed=seed)
    oven = in_sunlight(optics)
    paths = np.full((rays, points, 3), np.nan)
    shares = np.zeros((len(suns), _SURFACES))
    beam_kernel(oven.scene, math.sin(oven.optics.sun_half_angle), suns, ups, chosen, shares, paths)
    return paths
