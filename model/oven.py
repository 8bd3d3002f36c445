"""What is built: funnel, cover, jacket, hung pot and stand; frozen, checked when made.

Lengths are inside measures. The funnel is a frustum of a regular polygon, or up to three, one above the other
(see `tiers`); its optical axis runs from the middle of the back plate out through the middle of the mouth. The
pot hangs on trunnions through its centre, which lies on the axis, so it stays plumb while the funnel tilts
about it.
"""

import math
from dataclasses import dataclass, field

from .described import Checked, DescriptionError, catalogued, choice, count, quantity
from .tiers import FLATTEST, ROUNDING, WALL_FIELDS, Wall, wall

_DEG = math.pi / 180


@dataclass(frozen=True, kw_only=True)
class Funnel(Checked):
    """The faceted mirror and the plate that closes its throat."""

    facets: int = count(3, 24, "flat mirror facets round the funnel", default=8)
    mouth: float = quantity("length", 0.10, 4.0, "across the flats of the mouth")
    depth: float = quantity("length", 0.03, 4.0, "mouth to back plate, along the axis")
    facet_angle: float = quantity("angle", 0.0, FLATTEST, "facet from the optical axis; of the lowest tier")
    mirror: str = catalogued("mirrors", "mirror sheet")
    soiling: float = quantity("share", 0.0, 0.6, "share of reflectance lost to dust", default=0.02)
    slope_error: float | None = quantity(
        "angle", 0.0, 0.2, "waviness of the facets, one axis, standard deviation", default=None
    )
    back_plate: str = choice(("mirror", "dark"), "face of the back plate", default="mirror")
    tiers: int = count(1, 3, "rings of facets one above the other, each at its own angle", default=1)
    second_bend: float = quantity(
        "angle", -FLATTEST, FLATTEST, "second tier opens this much further than the lowest", default=0.0
    )
    second_from: float = quantity(
        "share", 0.05, 0.95, "where the second tier begins, of the depth from the back plate", default=0.5
    )
    third_bend: float = quantity(
        "angle", -FLATTEST, FLATTEST, "third tier opens this much further than the second", default=0.0
    )
    # Of the rest, not of the whole depth: then no two values contradict each other, as factors should not.
    third_from: float = quantity(
        "share", 0.05, 0.95, "where the third tier begins, of the depth above second_from", default=0.5
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        fault = self._flat() or self._closed()
        if fault:
            raise DescriptionError([f"funnel.{fault}"])

    @property
    def idle(self) -> tuple[str, ...]:
        """Fields of tiers it does not have."""
        return ("second_bend", "second_from", "third_bend", "third_from")[2 * self.tiers - 2 :]

    @property
    def wall(self) -> Wall:
        """Angles, widths and heights of its tiers."""
        return wall(**{name: getattr(self, name) for name in WALL_FIELDS})

    def _flat(self) -> str | None:
        """What is wrong with the angle of a tier, if anything."""
        angle, limit = self.facet_angle, FLATTEST / _DEG
        for name in ("second_bend", "third_bend")[: self.tiers - 1]:
            bend = getattr(self, name)
            angle += bend
            if abs(angle) > FLATTEST * (1 + ROUNDING):
                return (
                    f"{name} = {bend / _DEG:.4g} deg leans its tier {angle / _DEG:.4g} deg from the axis, "
                    f"allowed {-limit:.4g} to {limit:.4g} deg: a smaller bend"
                )
        return None

    def _closed(self) -> str | None:
        """What is wrong with the width at an edge, if anything."""
        narrowest = float(self.wall.narrowest)
        if narrowest > 0:
            return None
        if self.tiers > 1:
            return (
                f"tiers = {self.tiers}: the facets meet before the back plate, {1e3 * narrowest:.4g} mm across at "
                "the narrowest: a smaller facet_angle or bend, or make the funnel shallower or wider"
            )
        steepest = math.atan(self.mouth / 2 / self.depth) / _DEG
        return (
            f"facet_angle = {self.facet_angle / _DEG:.4g} deg closes the throat before the "
            f"back plate: stay below {steepest:.4g} deg, or make the funnel shallower or wider"
        )


@dataclass(frozen=True, kw_only=True)
class Cover(Checked):
    """The clear cover over the mouth."""

    cover: str = catalogued("covers", "sheet of the clear cover")
    cover_thickness: float = quantity("length", 1e-5, 0.02, "thickness of one pane", default=0.003)
    panes: int = count(1, 2, "panes of the cover", default=1)
    pane_gap: float = quantity("length", 0.003, 0.10, "air gap between two panes", default=0.015)
    fog: float = quantity(
        "share", 0.0, 0.6, "share of light lost to steam and dust on the cover", default=0.0
    )

    @property
    def idle(self) -> tuple[str, ...]:
        """Fields of a second pane it does not have."""
        return ("pane_gap",) if self.panes == 1 else ()


@dataclass(frozen=True, kw_only=True)
class Jacket(Checked):
    """What keeps the heat in: insulation behind the mirror sheet, and the outer skin."""

    insulation: str = catalogued("insulations", "insulation behind the mirror sheet")
    insulation_thickness: float = quantity("length", 0.001, 0.5, "insulation behind facets and back plate")
    skin: str = catalogued("shells", "outer skin")
    skin_thickness: float = quantity("length", 1e-4, 0.05, "thickness of the outer skin", default=0.006)
    glue: str = catalogued("glues", "what holds mirror sheet and seals", default="silicone")
    leak_area: float = quantity("area", 0.0, 0.05, "open area of the cavity's gaps", default=1e-4)


@dataclass(frozen=True, kw_only=True)
class Pot(Checked):
    """The hung pot, a closed cylinder."""

    pot_metal: str = catalogued("pots", "metal of pot and lid")
    pot_finish: str = catalogued("finishes", "outer finish of pot and lid")
    pot_diameter: float = quantity("length", 0.03, 1.0, "outer diameter of the pot")
    pot_height: float = quantity("length", 0.03, 1.0, "outer height of the pot with its lid")
    pot_wall: float = quantity("length", 2e-4, 0.02, "wall thickness of the pot", default=0.002)
    pot_lift: float = quantity(
        "length", 0.002, 2.0, "back plate to pot bottom, along the axis, oven level", default=0.03
    )
    lid_gap: float = quantity("area", 0.0, 0.01, "open area round the lid", default=2e-5)


ARCHETYPES = ("covered funnel", "funnel over box")


@dataclass(frozen=True, kw_only=True)
class Box(Checked):
    """Which of two ovens it is: the funnel itself covered at its mouth, or open over a square box, the cover
    between them in the funnel's throat. The jacket then clads the box and the pot hangs in it."""

    archetype: str = choice(
        ARCHETYPES, "covered at the mouth, or open over an insulated box", default=ARCHETYPES[0]
    )
    box_across: float = quantity("length", 0.08, 3.0, "side of the square box, inside", default=0.40)
    box_depth: float = quantity("length", 0.05, 2.0, "cover to floor of the box, inside", default=0.25)
    box_lining: str = choice(("dark", "mirror"), "inner faces of the box", default="dark")

    @property
    def idle(self) -> tuple[str, ...]:
        """Fields of a box that is not there."""
        return ("box_across", "box_depth", "box_lining") if self.archetype == ARCHETYPES[0] else ()


@dataclass(frozen=True, kw_only=True)
class Stand(Checked):
    """The turning base."""

    base_radius: float = quantity("length", 0.05, 3.0, "pivot to the edge of the turning base", default=0.30)
    axis_height: float = quantity("length", 0.02, 3.0, "tilt trunnions above the ground", default=0.45)


@dataclass(frozen=True, kw_only=True)
class Oven:
    """One design of oven. Field names are unique over all parts, so a factor needs only its own name."""

    funnel: Funnel
    cover: Cover
    jacket: Jacket
    pot: Pot
    box: Box = field(default_factory=Box)
    stand: Stand = field(default_factory=Stand)

    def __post_init__(self) -> None:
        boxed = self.box.archetype == ARCHETYPES[1]
        if boxed and self.box.box_across < self.funnel.wall.throat:
            raise DescriptionError(
                [f"box.box_across = {self.box.box_across:g} m is narrower than the throat over it"]
            )
        room = self.box.box_depth if boxed else self.funnel.depth
        if self.pot.pot_lift + self.pot.pot_height >= room:
            raise DescriptionError(
                [
                    f"pot.pot_height = {self.pot.pot_height:g} m on a lift of {self.pot.pot_lift:g} m "
                    f"reaches the cover: together they must stay under {room:g} m"
                ]
            )
