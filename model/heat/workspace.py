"""The small array that holds all that a block of lanes works with: a row for each quantity, a column a lane.

One array, allocated by the kernel that loops over its columns, lets the compiler see that the
columns do not touch.
"""

from ..compiled import inlined
from .nodes import Array, Fabric, Flow, Forcing, Node, PerNode
from .ratios import Ratios
from .stepping import Book, advance

# Lanes go through a step side by side, and the compiler turns the loop over them into vector
# instructions only where it knows its length (measured: 4 times as fast). Four doubles are one register
# of today's machines; more lanes are no faster, and one lane alone would carry the more idle ones.
# Without the compiler there is nothing to gain from idle lanes.
BLOCK = 4 if hasattr(advance, "py_func") else 1

NODES = len(Node)
FLOWS = len(Flow)
CORE = int(Node.CORE)
STORED = int(Flow.STORED)

# First row of each group in the workspace.
BUILD = 0
RATIOS = BUILD + len(Fabric._fields)
EXPECTED = RATIOS + len(Ratios._fields)
FORCING = EXPECTED + NODES
AIM = FORCING + Forcing._fields.index("cosine")
SUN = FORCING + Forcing._fields.index("pot")
SHARE = FORCING + len(Forcing._fields)  # of a step that is tried at a time
STRAYED = SHARE + 1  # K
# What a try changes, and the same from before it.
NOW = STRAYED + 1
PEAK = NOW + NODES
FLOW = PEAK + NODES
WATER = FLOW + FLOWS
MEAN = WATER + 1
PLACE = MEAN + 1  # in the step, 0 to 1
ASIDE = PLACE + 1
STATE = ASIDE - NOW
ROWS = ASIDE + STATE


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
def ratios_at(w: Array, j: int) -> Ratios:
    """Quotients of one lane, in the order of `Ratios`."""
    k = RATIOS
    return Ratios(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j],
    )  # fmt: skip


@inlined
def put_ratios(w: Array, j: int, r: Ratios) -> None:
    """The reverse of `ratios_at`."""
    w[RATIOS, j] = r.per_pot_height
    w[RATIOS + 1, j] = r.per_half_radius
    w[RATIOS + 2, j] = r.disc_third
    w[RATIOS + 3, j] = r.disc_fourth
    w[RATIOS + 4, j] = r.per_sheet_length
    w[RATIOS + 5, j] = r.per_cover_length
    w[RATIOS + 6, j] = r.per_shell_height
    w[RATIOS + 7, j] = r.per_cover_conductance
    w[RATIOS + 8, j] = r.gap_emittance
    w[RATIOS + 9, j] = r.plane_share


@inlined
def forcing_at(w: Array, j: int) -> Forcing:
    """What one lane feels, in the order of `Forcing`."""
    k = FORCING
    return Forcing(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j], w[k + 10, j], w[k + 11, j], w[k + 12, j], w[k + 13, j], w[k + 14, j],
        w[k + 15, j],
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


@inlined
def put_aside(w: Array, j: int) -> None:
    """Remember one lane as it is before a try."""
    for row in range(STATE):
        w[ASIDE + row, j] = w[NOW + row, j]


@inlined
def add_book(w: Array, j: int, book: Book) -> None:
    """Add what a step gained and lost to the sums of one lane, in the order of `Flow`, and note its water."""
    w[FLOW, j] += book.pot
    w[FLOW + 1, j] += book.sheet
    w[FLOW + 2, j] += book.cover
    w[FLOW + 3, j] += book.cover_convection
    w[FLOW + 4, j] += book.cover_radiation
    w[FLOW + 5, j] += book.shell_convection
    w[FLOW + 6, j] += book.shell_radiation
    w[FLOW + 7, j] += book.leak
    w[FLOW + 8, j] += book.steam
    w[WATER, j] = book.water
