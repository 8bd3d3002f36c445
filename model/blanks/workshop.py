"""How a workshop cuts and joins."""

from dataclasses import dataclass

from ..described import Checked, catalogued, choice, count, quantity

JOINTS = ("butt", "seam", "strip")


@dataclass(frozen=True, kw_only=True)
class Workshop(Checked):
    """How mirror facets are joined and folded, and what is left round covers; what a drawing needs beyond the oven."""

    joint: str = choice(
        JOINTS,
        "facets side by side: edges bevelled and glued, flanges folded back to back, or bent from one strip",
        default=JOINTS[0],
    )
    flange: float = quantity("length", 0.003, 0.10, "width of a flange, from the fold", default=0.012)
    facets_a_strip: int = count(1, 24, "facets bent from one piece", default=4)
    bend_radius: float = quantity("length", 0.0, 0.05, "inner radius of a fold", default=0.001)
    # Between the third of the thickness and the middle by all handbooks; a test fold on the sheet at hand decides.
    neutral: float = quantity(
        "share",
        0.2,
        0.6,
        "depth of the layer that keeps its length in a fold, of the thickness",
        default=0.41,
    )
    cover_lap: float = quantity("length", 0.0, 0.10, "cover beyond the mouth, all round", default=0.015)
    frame_width: float = quantity(
        "length", 0.005, 0.20, "width of the strips that frame the cover", default=0.030
    )
    sheet_width: float = quantity("length", 0.10, 5.0, "width of a stock sheet", default=1.0)
    sheet_length: float = quantity("length", 0.10, 10.0, "length of a stock sheet", default=2.0)
    cutting_gap: float = quantity(
        "length", 0.0, 0.05, "left between pieces for saw and shears", default=0.005
    )
    # A stiff board and a bolt: common practice, no source.
    base_board: str = catalogued("shells", "board of the turning base", default="plywood")
    base_thickness: float = quantity("length", 0.002, 0.10, "board of the turning base", default=0.018)
    pivot_hole: float = quantity("length", 0.002, 0.20, "hole for the pivot, across", default=0.010)
