"""Outcomes of one design on one day: a value with a sentence attached."""

from enum import IntEnum


class Status(IntEnum):
    """What became of a run; anything but `OK` means its numbers must not be used."""

    OK = 0
    THROAT_CLOSED = 1
    POT_TOUCHES_WALL = 2
    NOT_FINITE = 3
    MEAL_OVERFLOWS = 4
    AIMING_IMPOSSIBLE = 5
    BOX_TOO_NARROW = 6
    TIER_TOO_FLAT = 7

    @property
    def sentence(self) -> str:
        """One sentence a builder can act on."""
        return _SENTENCES[self]


_SENTENCES = {
    Status.OK: "ran to the end",
    Status.THROAT_CLOSED: "the facets meet before the back plate: less depth or a smaller facet angle",
    Status.TIER_TOO_FLAT: "a tier leans more than 80 degrees from the axis: a smaller bend or facet angle",
    Status.POT_TOUCHES_WALL: "the pot touches the mirror at a tilt it needs: a smaller pot or a wider mouth",
    Status.AIMING_IMPOSSIBLE: "the aiming contradicts itself: the drive's stop share must lie below its start share",
    Status.BOX_TOO_NARROW: "the box is narrower than the funnel's throat over it: a wider box or a smaller throat",
    Status.MEAL_OVERFLOWS: "the meal is more than the pot holds: less food or a larger pot",
    Status.NOT_FINITE: "the heat balance left the range of numbers: look for an impossible property",
}
