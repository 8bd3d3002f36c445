"""Where light that reaches the mouth ends: sunbeam, sky and ground.

Shares are of the power that arrives on the mouth plane, at the outer face of a cover
lying there. Columns follow `Surface`; each row sums to 1.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Optics, Surface, checked
from .sampling import fraction, key_of, lattice_word
from .scene import solar_scene
from .starts import disc_point, polygon_point
from .trace import BLOCK, COVER, LOST, clear_cover, empty_rays, put, trace
from .vectors import combine

_SURFACES = len(Surface)
_NO_PATHS = np.empty((0, 0, 3))


@kernel
def _enter(scene, rays, key, number, row, direction, up, shares):
    """Start a ray at the mouth plane, past the cover if one lies there."""
    weight = 1.0
    if scene.cover_interface == 0:
        weight, back = clear_cover(scene.cover_table, -direction[2])
        shares[row, COVER] += 1.0 - weight - back
        shares[row, LOST] += back
    u, v = fraction(lattice_word(key, number, 0)), fraction(lattice_word(key, number, 1))
    place = polygon_point(scene, 0, scene.top[0], u, v)
    slot = rays.waiting[0]
    rays.waiting[0] += 1
    put(rays, 0, slot, place, direction, weight, (number, row, 0), scene.pot_centre, up)
    return place


@kernel
def _sun_ray(scene, key, number, sine, sun):
    """Travel direction of a ray from an evenly bright disc around `sun`."""
    across, along = disc_point(scene, key, number)
    across, along = sine * across, sine * along
    x, y, z = combine(*sun, across, along, math.sqrt(1.0 - across * across - along * along))
    return -x, -y, -z


@kernel
def beam_kernel(scene, sine, to_sun, pot_up, rays_each, seed, shares, paths):
    """Powers of the beam by row and surface, in rays; `sine` is of the sun's half angle.

    Rays of equal weight: the cosine's slope across the disc moves its mean direction by
    less than a tenth of a milliradian up to 87 degrees of incidence. Rays from the part
    of the disc behind the mouth plane are left out.
    """
    key = key_of(seed)
    rays = empty_rays(scene.top.shape[0])
    for row in range(to_sun.shape[0]):
        sun = to_sun[row, 0], to_sun[row, 1], to_sun[row, 2]
        up = pot_up[row, 0], pot_up[row, 1], pot_up[row, 2]
        for number in range(row * rays_each, (row + 1) * rays_each):
            if sun[2] <= 0.0:
                break
            direction = _sun_ray(scene, key, number, sine, sun)
            if direction[2] < 0.0:
                place = _enter(scene, rays, key, number, row, direction, up, shares)
                if paths.shape[1] > 0:
                    paths[number, 0, 0], paths[number, 0, 1], paths[number, 0, 2] = place
            if rays.waiting[0] == BLOCK:
                trace(scene, rays, key, pot_up, shares, paths)
    trace(scene, rays, key, pot_up, shares, paths)


@kernel
def _dome_ray(scene, key, number, up, low, high):
    """Travel direction of diffuse light through the mouth from one part of the hemisphere.

    Cosine-weighted directions are evenly spread over the unit disc below the hemisphere,
    where the world's horizon is half an ellipse: it cuts every chord along the tilt at the
    same fraction. So a point is moved along its chord, into (low, high) of the chord's
    half-length, and stays evenly spread.
    """
    across, along = disc_point(scene, key, number)
    half = math.sqrt(1.0 - across * across)
    along = half * (low + 0.5 * (high - low) * (along / half + 1.0))
    lean = math.hypot(up[0], up[1])
    ax, ay = (up[0] / lean, up[1] / lean) if lean > 0.0 else (0.0, 1.0)
    z = math.sqrt(max(1.0 - across * across - along * along, 0.0))
    return -(along * ax - across * ay), -(along * ay + across * ax), -z


@kernel
def dome_kernel(scene, pot_up, rays_each, seed, ground, shares):
    """Powers of diffuse light by row and surface, in rays: from the sky, or from the ground."""
    key = key_of(seed)
    rays = empty_rays(scene.top.shape[0])
    paths = np.empty((0, 0, 3))
    for row in range(pot_up.shape[0]):
        up = pot_up[row, 0], pot_up[row, 1], pot_up[row, 2]
        low, high = (-1.0, -up[2]) if ground else (-up[2], 1.0)
        for number in range(row * rays_each, (row + 1) * rays_each):
            if high <= low:
                break
            direction = _dome_ray(scene, key, number, up, low, high)
            if direction[2] < 0.0:
                _enter(scene, rays, key, number, row, direction, up, shares)
            if rays.waiting[0] == BLOCK:
                trace(scene, rays, key, pot_up, shares, paths)
    trace(scene, rays, key, pot_up, shares, paths)


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
    return rows / length[:, None]


def sampling(rays: int, seed: int) -> tuple[int, np.uint64]:
    """Number of rays and seed, in range.

    Raises
    ------
    ValueError
        If there is no ray, or the seed is not a positive number.
    """
    if rays < 1:
        raise ValueError(f"rays = {rays}, allowed 1 or more")
    if not 0 < seed < 2**63:
        raise ValueError(f"seed = {seed}, allowed 1 to 2^63 - 1")
    return int(rays), np.uint64(seed)


def _normalised(power: Array) -> Array:
    """Shares from powers; where nothing arrives all of it is lost."""
    power[power.sum(axis=1) == 0.0, Surface.LOST] = 1.0
    return power / power.sum(axis=1, keepdims=True)


def _sun_and_pot(to_sun: ArrayLike, pot_up: ArrayLike) -> tuple[Array, Array]:
    suns, ups = directions("to_sun", to_sun), directions("pot_up", pot_up)
    if suns.shape != ups.shape:
        raise ValueError(f"to_sun has {len(suns)} rows, pot_up {len(ups)}")
    return suns, ups


def beam_shares(optics: Optics, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, seed: int = 1) -> Array:
    """Share of the sunbeam at the mouth that each surface takes, float64[time, surface]. [-]

    The rows share one low-discrepancy sequence: each is well covered by its own rays,
    and means over neighbouring rows converge as if all rays were one sample. The same
    points serve every design.

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
    count, start = sampling(rays, seed)
    scene: Any = solar_scene(checked(optics))
    shares = np.zeros((len(suns), _SURFACES))
    beam_kernel(scene, math.sin(optics.sun_half_angle), suns, ups, count, start, shares, _NO_PATHS)
    return _normalised(shares)


def dome_shares(optics: Optics, *, pot_up: ArrayLike, rays: int, seed: int = 1) -> tuple[Array, Array]:
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

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.
    """
    ups = directions("pot_up", pot_up)
    count, start = sampling(rays, seed)
    scene: Any = solar_scene(checked(optics))
    sky, ground = np.zeros((2, len(ups), _SURFACES))
    dome_kernel(scene, ups, count, start, False, sky)
    dome_kernel(scene, ups, count, start, True, ground)
    return _normalised(sky), _normalised(ground)


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
    count, start = sampling(rays, seed)
    scene: Any = solar_scene(checked(optics))
    paths = np.full((count, points, 3), np.nan)
    shares = np.zeros((len(suns), _SURFACES))
    beam_kernel(scene, math.sin(optics.sun_half_angle), suns, ups, count, start, shares, paths)
    return paths
