"""The small array that holds all that a block of lanes works with: a row for each quantity, a column a lane.

One array, allocated by the kernel that loops over its columns, lets the compiler see that the
columns do not touch.
"""

from ..compiled import inlined
from .nodes import Array, Fabric, Flow, Forcing, Node, PerNode
from .stepping import advance

# Lanes go through a step side by side, and the compiler turns the loop over them into vector
# instructions only where it knows its length (measured: 4 times as fast). Without the compiler
# there is nothing to gain from idle lanes that fill up a block.
BLOCK = 32 if hasattr(advance, "py_func") else 1

NODES = len(Node)
FLOWS = len(Flow)
CORE = int(Node.CORE)
STORED = int(Flow.STORED)

# First row of each group in the workspace.
BUILD = 0
NOW = BUILD + len(Fabric._fields)
EXPECTED = NOW + NODES
PEAK = EXPECTED + NODES
FORCING = PEAK + NODES
SUN = FORCING + 11
FLOW = FORCING + len(Forcing._fields)
END = FLOW + FLOWS
BOOK = END + NODES
WATER = BOOK + FLOWS
MEAN = WATER + 1
SUDDEN = MEAN + 1
ROWS = SUDDEN + 1


@inlined
def build_at(w: Array, j: int) -> Fabric[float]:
    """Properties of one lane, in the order of `Build`."""
    return Fabric(
        w[0, j], w[1, j], w[2, j], w[3, j], w[4, j], w[5, j], w[6, j], w[7, j], w[8, j], w[9, j], w[10, j],
        w[11, j], w[12, j], w[13, j], w[14, j], w[15, j], w[16, j], w[17, j], w[18, j], w[19, j], w[20, j],
        w[21, j], w[22, j], w[23, j], w[24, j], w[25, j], w[26, j], w[27, j], w[28, j], w[29, j], w[30, j],
        w[31, j], w[32, j], w[33, j], w[34, j],
    )  # fmt: skip


@inlined
def forcing_at(w: Array, j: int) -> Forcing:
    """What one lane feels, in the order of `Forcing`."""
    k = FORCING
    return Forcing(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j], w[k + 10, j], w[k + 11, j], w[k + 12, j], w[k + 13, j],
    )  # fmt: skip


@inlined
def nodes_at(w: Array, k: int, j: int) -> PerNode:
    """Ten rows from row `k` on, for one lane."""
    return PerNode(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j],
    )  # fmt: skip


@inlined
def put_nodes(w: Array, k: int, j: int, t: PerNode) -> None:
    """The reverse of `nodes_at`."""
    w[k, j] = t.outer
    w[k + 1, j] = t.middle
    w[k + 2, j] = t.core
    w[k + 3, j] = t.pot
    w[k + 4, j] = t.air
    w[k + 5, j] = t.sheet
    w[k + 6, j] = t.insulation
    w[k + 7, j] = t.shell
    w[k + 8, j] = t.cover_inner
    w[k + 9, j] = t.cover_outer
