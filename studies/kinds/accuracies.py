"""How exactly a careful village workshop and its cook usually work, quantity by quantity.

All of it is common practice, no source, except where a line says otherwise: a workshop that has measured its own work
writes that into its config. Each is half the width of what the work usually spreads over.
"""

from dataclasses import dataclass

from ..asking.quantity import parse

_SHEET_SHARE = 0.10  # of a thin sheet's thickness: what sheets sold as one gauge differ by


@dataclass(frozen=True, kw_only=True)
class Usual:
    """How exactly one quantity usually comes out.

    Parameters
    ----------
    check : str
        What to do about it, as a sentence.
    within : str, optional
        With its unit.
    share : float, optional
        Of the designed value; the smaller of both counts.
    """

    check: str
    within: str | None = None
    share: float | None = None

    def accuracy(self, designed: float, dimension: str) -> float:
        """Half the width of the spread. [SI]"""
        widths = [parse(self.within, dimension)] if self.within else []
        widths += [self.share * abs(designed)] if self.share else []
        return min(widths)


_RULE = "Measure every part with a steel rule before it is joined."
_BEND = "Hold a gauge cut to the angle into every bend, out of the sun."
_SQUARE = "Measure with a steel tape, both ways and corner to corner."
_SIGHT = "Hold a square from the rim of the mouth to the plate of the sight, in the shade."
_CALLIPER = "Measure an edge of the sheet with a calliper when it is bought."
_CLOCK = "Hang a clock in sight of the cook."
_MOTOR = "Cover the cell bit by bit until the motor stands, and measure what is left open."

USUAL: dict[str, Usual] = {
    "mouth": Usual(within="2 mm", check="Measure across every pair of flats with a steel tape."),
    "depth": Usual(
        within="2 mm", check="Measure from a straight edge over the mouth down to the back plate."
    ),
    "facet_angle": Usual(within="1 deg", check=_BEND),
    "second_bend": Usual(within="1 deg", check=_BEND),
    "third_bend": Usual(within="1 deg", check=_BEND),
    "second_from": Usual(within="1 %", check=_RULE),
    "third_from": Usual(within="1 %", check=_RULE),
    # 10 mrad is the standard deviation of facets bent unlike each other, anywhere within 1 deg; it adds to a sheet's
    # own 3 to 5 mrad by squares, which makes 6 mrad more.
    "slope_error": Usual(
        within="6 mrad",
        check="Look at a straight pole in each facet, pole and oven in the shade: it must not bend.",
    ),
    "soiling": Usual(
        within="5 %",
        check="Wipe one facet, the oven turned out of the sun, and compare it with its neighbour.",
    ),
    # Float glass of 3 to 6 mm is sold within 0.2 mm: EN 572-2, from memory.
    "cover_thickness": Usual(within="0.2 mm", share=_SHEET_SHARE, check=_CALLIPER),
    "pane_gap": Usual(within="2 mm", check="Measure the spacers before the second pane is set."),
    "fog": Usual(within="5 %", check="Wipe off what dust or drops stand on the cover, before it is hot."),
    "insulation_thickness": Usual(within="5 mm", check="Push a wire through it at several places."),
    "skin_thickness": Usual(within="0.2 mm", share=_SHEET_SHARE, check=_CALLIPER),
    "leak_area": Usual(
        within="1 cm2", check="Hold a strip of tissue along all seams of the cold oven on a windy day."
    ),
    "pot_diameter": Usual(within="2 mm", check="Lay a tape round the pot and divide by 3.14."),
    "pot_height": Usual(within="2 mm", check="Measure it with the lid on."),
    "pot_wall": Usual(within="0.1 mm", share=_SHEET_SHARE, check="Weigh the pot."),
    "pot_lift": Usual(within="5 mm", check="Measure from the back plate to the hung pot, the oven level."),
    "lid_gap": Usual(within="0.2 cm2", check="Push a strip of paper under the lid all round."),
    "box_across": Usual(within="3 mm", check=_SQUARE),
    "box_depth": Usual(within="3 mm", check=_SQUARE),
    "fixed_azimuth": Usual(within="3 deg", check="Set it by the shadow of a plumb line at noon."),
    "fixed_elevation": Usual(within="2 deg", check="Set it with a plumb line and a protractor."),
    "azimuth_every": Usual(within="5 min", check=_CLOCK),
    "elevation_every": Usual(within="10 min", check=_CLOCK),
    "azimuth_bias": Usual(within="2 deg", check=_SIGHT),
    "elevation_bias": Usual(within="2 deg", check=_SIGHT),
    "fin_height": Usual(within="1 mm", check=_RULE),
    "cell_width": Usual(within="1 mm", check="Measure the cell with a rule."),
    "start_share": Usual(within="3 %", check=_MOTOR),
    "stop_share": Usual(within="1 %", check=_MOTOR),
    "speed": Usual(share=0.10, check="Time a quarter of a turn."),
    "food_mass": Usual(share=0.05, check="Weigh it, or mark a cup."),
}
