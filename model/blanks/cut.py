"""All pieces of one oven."""

import math
from collections.abc import Sequence

import numpy as np

from ..catalogue import Catalogue
from ..design import Design
from ..oven import ARCHETYPES, Oven
from ..tiers import WALL_FIELDS, Wall, wall
from .blank import Blank, Floats, rectangle, regular
from .ring import Ring, rings, strip, with_flanges
from .workshop import Workshop


def blanks_of(design: Design, *, catalogue: Catalogue, workshop: Workshop | None = None) -> list[Blank]:
    """Every piece of sheet and board of a design, in the order of building.

    Layers lie on each other: the mirror sheet behind the measures of the design, insulation behind it, skin last. The
    turning base and the pot are not among them.
    """
    shop = workshop or Workshop()
    oven = design.oven
    mirror = _thickness(catalogue, "mirrors", oven.funnel.mirror)
    boxed = oven.box.archetype == ARCHETYPES[1]
    pieces = [*_mirror(oven, mirror, shop), *_cover(oven, shop, boxed=boxed)]
    return pieces + (_box(oven, mirror) if boxed else _clad_funnel(oven, mirror))


def _thickness(catalogue: Catalogue, group: str, name: str) -> float:
    return float(catalogue.materials.numbers(group, name)["thickness"])


def _wall(oven: Oven) -> Wall:
    """The funnel's wall as columns of length one."""
    return wall(**{name: np.array([getattr(oven.funnel, name)]) for name in WALL_FIELDS})


def _mirror(oven: Oven, thickness: float, shop: Workshop) -> list[Blank]:
    """Facets of every tier, and the back plate where the funnel has one."""
    facets, funnel = oven.funnel.facets, _wall(oven)
    pieces: list[Blank] = []
    for ring in rings(funnel, facets, begin=0.0, thickness=thickness):
        pieces += _facets(ring, oven.funnel.mirror, thickness, shop)
    if oven.box.archetype == ARCHETYPES[0]:
        plate = regular(facets, float(funnel.across[-1, 0]))
        mirrored = oven.funnel.back_plate == "mirror"
        note = "bright side up" if mirrored else "blackened side up"
        pieces.append(_piece("back plate", "mirror", oven.funnel.mirror, thickness, 1, plate, note=note))
    return pieces


def _facets(ring: Ring, material: str, thickness: float, shop: Workshop) -> list[Blank]:
    name = f"facet, tier {ring.tier}"
    if shop.joint == "seam":
        outline, folds = with_flanges(ring, thickness, shop)
        note = "fold both flanges back, away from the bright side"
        return [_piece(name, "mirror", material, thickness, ring.facets, outline, folds=folds, note=note)]
    if shop.joint == "strip":
        return _strips(ring, material, thickness, shop)
    return [
        _bevelled(
            name, "mirror", material, thickness, ring, note="drawn from behind: the bright face is smaller"
        )
    ]


def _strips(ring: Ring, material: str, thickness: float, shop: Workshop) -> list[Blank]:
    """As many whole strips as the ring has, and one for what is left."""
    whole, left = divmod(ring.facets, shop.facets_a_strip)
    pieces = []
    for number, count in ((shop.facets_a_strip, whole), (left, 1 if left else 0)):
        if count:
            outline, folds = strip(ring, number, thickness, shop)
            name = f"{number} facets, tier {ring.tier}" if number > 1 else f"facet, tier {ring.tier}"
            note = "fold towards the bright side" if number > 1 else ""
            pieces.append(_piece(name, "mirror", material, thickness, count, outline, folds=folds, note=note))
    return pieces


def _cover(oven: Oven, shop: Workshop, *, boxed: bool) -> list[Blank]:
    """Panes, and the mitred strips that frame them."""
    facets, funnel = oven.funnel.facets, _wall(oven)
    opening = float(funnel.across[-1 if boxed else 0, 0])
    across = opening + 2 * shop.cover_lap
    cover, thick = oven.cover, oven.cover.cover_thickness
    pane = _piece("cover", "cover", cover.cover, thick, cover.panes, regular(facets, across))
    half = math.tan(math.pi / facets)
    outer, inner = across / 2 * half, (across / 2 - shop.frame_width) * half
    frame = np.array([[-outer, 0.0], [outer, 0.0], [inner, shop.frame_width], [-inner, shop.frame_width]])
    if inner <= 0:
        return [pane]
    note = f"ends mitred {math.degrees(math.pi / facets):.1f} deg from square"
    strips = _piece(
        "cover frame", "skin", oven.jacket.skin, oven.jacket.skin_thickness, facets, frame, note=note
    )
    return [pane, strips]


def _clad_funnel(oven: Oven, mirror: float) -> list[Blank]:
    """Insulation and skin behind the facets and the back plate."""
    jacket, funnel, facets = oven.jacket, _wall(oven), oven.funnel.facets
    pieces: list[Blank] = []
    begin = mirror
    layers = (
        ("insulation", jacket.insulation, jacket.insulation_thickness),
        ("skin", jacket.skin, jacket.skin_thickness),
    )
    for part, material, thickness in layers:
        found = rings(funnel, facets, begin=begin, thickness=thickness)
        for ring in found:
            pieces.append(_bevelled(f"{part}, tier {ring.tier}", part, material, thickness, ring))
        ends = [2 * face[1, 0] / math.tan(math.pi / facets) for face in (found[0].outer, found[0].inner)]
        outline, inner = (regular(facets, across) for across in ends)
        pieces.append(_piece(f"{part}, back", part, material, thickness, 1, outline, inner=inner))
        begin += thickness
    return pieces


def _box(oven: Oven, lining: float) -> list[Blank]:
    """Lining, insulation and skin of the square box; floors and tops whole, walls between them, two of them short."""
    box, jacket, facets = oven.box, oven.jacket, oven.funnel.facets
    opening = float(_wall(oven).across[-1, 0])
    across, height = box.box_across, box.box_depth
    pieces: list[Blank] = []
    layers = (
        ("mirror", oven.funnel.mirror, lining, "box lining"),
        ("insulation", jacket.insulation, jacket.insulation_thickness, "box insulation"),
        ("skin", jacket.skin, jacket.skin_thickness, "box skin"),
    )
    for part, material, thickness, name in layers:
        wide = across + 2 * thickness
        hole = (regular(facets, opening),)
        pieces += [
            _piece(f"{name}, floor", part, material, thickness, 1, rectangle(wide, wide)),
            _piece(f"{name}, top", part, material, thickness, 1, rectangle(wide, wide), holes=hole),
            _piece(f"{name}, long wall", part, material, thickness, 2, rectangle(wide, height)),
            _piece(f"{name}, short wall", part, material, thickness, 2, rectangle(across, height)),
        ]
        across, height = wide, height + 2 * thickness
    return pieces


def _bevelled(name: str, part: str, material: str, thickness: float, ring: Ring, note: str = "") -> Blank:
    return _piece(name, part, material, thickness, ring.facets, ring.outer, inner=ring.inner, note=note)


def _piece(
    name: str,
    part: str,
    material: str,
    thickness: float,
    count: int,
    outline: Floats,
    *,
    inner: Floats | None = None,
    holes: tuple[Floats, ...] = (),
    folds: Sequence[tuple[Floats, float]] = (),
    note: str = "",
) -> Blank:
    """A piece whose smaller face is as large as the other unless it is given."""
    return Blank(
        name=name,
        part=part,
        material=material,
        thickness=thickness,
        count=count,
        outline=outline,
        inner=outline if inner is None else inner,
        holes=holes,
        folds=tuple(folds),
        note=note,
    )
