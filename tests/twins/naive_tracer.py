"""One ray at a time in plain Python: every plane tried, the nearest taken. No speed, no tricks."""

import math
from dataclasses import dataclass

import numpy as np

from noonhearth.model.light import Optics


@dataclass
class Hit:
    distance: float
    kind: str
    normal: np.ndarray | None


def cross_section(optics: Optics, cell: int, z: float) -> tuple[int, float]:
    """Facets and apothem of a cell at a height."""
    low, high = optics.bottom_height[cell], optics.top_height[cell]
    part = (z - low) / (high - low)
    across = optics.bottom_across[cell] + part * (optics.top_across[cell] - optics.bottom_across[cell])
    return int(optics.facet_count[cell]), 0.5 * across


def facet_direction(facets: int, j: int) -> np.ndarray:
    azimuth = 2.0 * math.pi * j / facets
    return np.array([math.sin(azimuth), math.cos(azimuth), 0.0])


def within(optics: Optics, cell: int, point: np.ndarray) -> bool:
    facets, apothem = cross_section(optics, cell, point[2])
    return all(facet_direction(facets, j) @ point <= apothem * (1.0 + 1e-12) for j in range(facets))


def wall_hits(optics: Optics, cell: int, place: np.ndarray, ray: np.ndarray) -> list[Hit]:
    """Planes through each facet's bottom edge, leaning with it."""
    hits = []
    rise = optics.top_height[cell] - optics.bottom_height[cell]
    run = 0.5 * (optics.top_across[cell] - optics.bottom_across[cell])
    for j in range(int(optics.facet_count[cell])):
        e = facet_direction(int(optics.facet_count[cell]), j)
        edge = e * 0.5 * optics.bottom_across[cell] + np.array([0.0, 0.0, optics.bottom_height[cell]])
        inward = np.array([-e[0] * rise, -e[1] * rise, run]) / math.hypot(rise, run)
        if ray @ inward < 0.0:
            hits.append(Hit(max(((edge - place) @ inward) / (ray @ inward), 0.0), "wall", inward))
    return hits


def pot_hits(optics: Optics, up: np.ndarray, place: np.ndarray, ray: np.ndarray) -> list[Hit]:
    """Faces by plane and circle, the side by the quadratic."""
    hits = []
    q = place - np.array([0.0, 0.0, optics.pot_centre])
    half, radius = 0.5 * optics.pot_height, optics.pot_radius
    for kind, level in (("lid", half), ("bottom", -half)):
        facing = up if kind == "lid" else -up
        if ray @ facing < 0.0 and (q @ up - level) * (1 if kind == "lid" else -1) > 1e-12:
            t = (level - q @ up) / (ray @ up)
            p = q + t * ray
            if np.linalg.norm(p - (p @ up) * up) <= radius:
                hits.append(Hit(t, kind, facing))
    d, s = ray - (ray @ up) * up, q - (q @ up) * up
    a, b, c = d @ d, d @ s, s @ s - radius**2
    if a > 1e-18 and c > 1e-12 and b * b > a * c and b < 0.0:
        t = (-b - math.sqrt(b * b - a * c)) / a
        p = q + t * ray
        if abs(p @ up) <= half:
            hits.append(Hit(t, "side", (p - (p @ up) * up) / radius))
    return hits


def end_hit(optics: Optics, cell: int, place: np.ndarray, ray: np.ndarray) -> list[Hit]:
    if ray[2] == 0.0:
        return []
    level = optics.top_height[cell] if ray[2] > 0.0 else optics.bottom_height[cell]
    kind = "top" if ray[2] > 0.0 else "base"
    return [
        Hit(max((level - place[2]) / ray[2], 0.0), kind, np.array([0.0, 0.0, -math.copysign(1.0, ray[2])]))
    ]


def follow(
    optics: Optics, up: np.ndarray, place: np.ndarray, ray: np.ndarray
) -> tuple[list[np.ndarray], dict[str, float]]:
    """Corners of a ray's path and what each surface takes; smooth mirrors, no cover, a black pot."""
    cell, weight = 0, 1.0
    corners, taken = [place], {}
    for _ in range(200):
        hits = (
            wall_hits(optics, cell, place, ray)
            + end_hit(optics, cell, place, ray)
            + pot_hits(optics, up, place, ray)
        )
        hit = min(hits, key=lambda h: h.distance)
        place = place + hit.distance * ray
        corners.append(place)
        kind, rho = hit.kind, float(optics.wall_reflectance[cell])
        if kind in ("lid", "side", "bottom"):
            taken[kind] = taken.get(kind, 0.0) + weight
            return corners, taken
        if kind == "top" and cell == 0:
            taken["lost"] = taken.get("lost", 0.0) + weight
            return corners, taken
        if kind in ("top", "base") and not (kind == "base" and cell == len(optics.facet_count) - 1):
            other = cell - 1 if kind == "top" else cell + 1
            if within(optics, other, place):
                cell = other
                continue
            kind = "wall"
        if kind == "base":
            kind, rho = "plate", optics.plate_reflectance
        taken[kind] = taken.get(kind, 0.0) + weight * (1.0 - rho)
        weight *= rho
        ray = ray - 2.0 * (ray @ hit.normal) * hit.normal
    taken["lost"] = taken.get("lost", 0.0) + weight
    return corners, taken
