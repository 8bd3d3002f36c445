"""How lanes walk through a step: as one block where nothing strays, each by its own shares of a step where it does."""

import math

from ..compiled import inlined
from . import water
from .nodes import Array, Fabric, PerNode
from .stepping import advance, along, hotter, within
from .workspace import (
    ASIDE,
    BLOCK,
    EXPECTED,
    MEAN,
    NODES,
    NOW,
    PEAK,
    PLACE,
    SHARE,
    STATE,
    STRAYED,
    WATER,
    add_book,
    build_at,
    forcing_at,
    nodes_at,
    put_aside,
    put_nodes,
    ratios_at,
)

# K; a try that strays further is taken back (see `strayed`), one that strays less lengthens the next.
# Measured on 200 ovens as extreme as they come, with a corner every 22 minutes: 1.14 tries a step and cores within
# 0.064 K; with half the tolerance 1.24 and 0.048 K, with twice 1.08 and 0.092 K. Half of it would double the work
# under a sun traced with few rays: the noise of 10 % from minute to minute strays by half a kelvin.
TOLERANCE, EASY = 0.5, 0.125
CAREFUL = 0.25  # share of a step taken first, and where a whole one strays
LEAST = 0.0625  # shortest share


@inlined
def _mean_contents(build: Fabric[float], t: PerNode, water_mass: float) -> float:
    """Temperature of the contents, weighted by capacity. [K]"""
    solid = build.solid_capacity
    total = solid + water_mass * water.SPECIFIC_HEAT
    inner = (t.middle - t.outer) + (t.core - t.outer)
    return t.outer + solid * inner / (3.0 * max(total, 1e-12))


@inlined
def walk_block(w: Array, step: float) -> None:
    """One try of every lane, as if it were kept; where it came from is put aside."""
    for j in range(BLOCK):
        share, place = w[SHARE, j], w[PLACE, j]
        start, build = nodes_at(w, NOW, j), build_at(w, j)
        felt = within(forcing_at(w, j), place, share)
        end, book, astray = advance(
            build, ratios_at(w, j), start, nodes_at(w, EXPECTED, j), w[WATER, j], felt, step * share
        )
        put_aside(w, j)
        put_nodes(w, NOW, j, end)
        put_nodes(w, EXPECTED, j, along(start, end, 1.5))
        put_nodes(w, PEAK, j, hotter(nodes_at(w, PEAK, j), end))
        add_book(w, j, book)
        w[MEAN, j] = _mean_contents(build, end, book.water)
        w[PLACE, j] = place + share
        w[STRAYED, j] = astray


@inlined
def _expect(w: Array, start: int, stretch: float, j: int) -> None:
    """Expect a lane to go on from `start` as it went in its last try, if the next is `stretch` times as long."""
    for node in range(NODES):
        gone = w[EXPECTED + node, j] - w[NOW + node, j]
        w[EXPECTED + node, j] = w[start + node, j] + stretch * gone


@inlined
def settle(w: Array, j: int) -> bool:
    """Take a try back that strayed, or lengthen the next after one that did not; whether the step is over.

    All shares are powers of two and begin at multiples of themselves, so they fill a step exactly.
    """
    share, astray = w[SHARE, j], w[STRAYED, j]
    if astray > TOLERANCE and share > LEAST:
        shorter = max(CAREFUL * share, LEAST)
        _expect(w, ASIDE, shorter / share, j)
        for row in range(STATE):
            w[NOW + row, j] = w[ASIDE + row, j]
        w[SHARE, j] = shorter
        return False
    pairs = 0.5 * w[PLACE, j] / share
    if share < 1.0 and astray < EASY and math.floor(pairs) == pairs:
        _expect(w, NOW, 2.0, j)
        w[SHARE, j] = 2.0 * share
    if w[PLACE, j] < 1.0:
        return False
    w[PLACE, j] = 0.0
    return True
