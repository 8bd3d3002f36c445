"""All pieces of one oven."""

import math
from collections.abc import Sequence
from functools import partial

import numpy as np

from ..catalogue import Catalogue
from ..design import Design
from ..oven import ARCHETYPES, Oven
from ..tiers import WALL_FIELDS, Wall, wall
from .base import base_of
from .blank import Blank, Floats, rectangle, regular
from .ring import Ring, rings, strip, with_flanges
from .workshop import Workshop


def blanks_of(design: Design, *, catalogue: Catalogue, workshop: Workshop | None = None) -> list[Blank]:
    """Every piece of sheet and board of a design, in the order of building, the turning base last.

    Layers lie on each other: the mirror sheet behind the measures of the design, insulation behind it, skin last. The
    pot is not among them.
    """
    shop = workshop or Workshop()
    oven = design.oven
    mirror = _thickness(catalogue, "mirrors", oven.funnel.mirror)
    boxed = oven.box.archetype == ARCHETYPES[1]
    pieces = [*_mirror(oven, mirror, shop), *_cover(oven, shop, boxed=boxed)]
    pieces += _box(oven, mirror, shop) if boxed else _clad_funnel(oven, mirror)
    return [*pieces, base_of(design, shop)]


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
    """Panes, and the mitred strips that hold them down; the strips end where the mouth begins and shade none of it."""
    facets = oven.funnel.facets
    opening = _opening(oven)
    cover, thick = oven.cover, oven.cover.cover_thickness
    pane = _piece(
        "cover",
        "cover",
        cover.cover,
        thick,
        cover.panes,
        regular(facets, opening + 2 * shop.cover_lap),
        note="lies on the top of the box, under the funnel" if boxed else "lies on the rim of the mouth",
    )
    half = math.tan(math.pi / facets)
    inner, outer = opening / 2 * half, (opening / 2 + shop.frame_width) * half
    frame = np.array([[-outer, 0.0], [outer, 0.0], [inner, shop.frame_width], [-inner, shop.frame_width]])
    note = f"ends mitred {math.degrees(math.pi / facets):.1f} deg from square"
    strips = _piece(
        "cover frame", "skin", oven.jacket.skin, oven.jacket.skin_thickness, facets, frame, note=note
    )
    return [pane, strips]


def _opening(oven: Oven) -> float:
    """Across the flats of what the cover closes: the mouth, or the throat over a box. [m]"""
    return float(_wall(oven).across[-1 if oven.box.archetype == ARCHETYPES[1] else 0, 0])


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


def _box(oven: Oven, lining: float, shop: Workshop) -> list[Blank]:
    """Lining, insulation and skin of the square box; floors and tops whole, walls between them, two of them short."""
    box, jacket, facets = oven.box, oven.jacket, oven.funnel.facets
    across, height, level = box.box_across, box.box_depth, 0.0
    face = "bright side in" if box.box_lining == "mirror" else "blacken the inner side"
    pieces: list[Blank] = []
    layers = (
        ("mirror", oven.funnel.mirror, lining, "box lining", face),
        ("insulation", jacket.insulation, jacket.insulation_thickness, "box insulation", ""),
        ("skin", jacket.skin, jacket.skin_thickness, "box skin", ""),
    )
    for part, material, thickness, name, note in layers:
        wide = across + 2 * thickness
        # The lining's top carries the cover; what lies above it makes way for cover, frame and funnel.
        hole = _opening(oven) if part == "mirror" else _clear_of_funnel(oven, lining, level + thickness, shop)
        kind = partial(_piece, part=part, material=material, thickness=thickness, note=note)
        pieces.append(kind(f"{name}, floor", count=1, outline=rectangle(wide, wide)))
        if hole < wide:
            through = (regular(facets, hole),)
            pieces.append(kind(f"{name}, top", count=1, outline=rectangle(wide, wide), holes=through))
        pieces.append(kind(f"{name}, long wall", count=2, outline=rectangle(wide, height)))
        pieces.append(kind(f"{name}, short wall", count=2, outline=rectangle(across, height)))
        across, height, level = wide, height + 2 * thickness, level + thickness * (part != "mirror")
    return pieces


def _clear_of_funnel(oven: Oven, sheet: float, height: float, shop: Workshop) -> float:
    """Width across the flats that lets cover, frame and the funnel's sheet through, so high above the cover. [m]"""
    funnel = _wall(oven)
    out = sheet / np.cos(funnel.angle[:, 0]).min()
    level, across = funnel.level[::-1, 0], funnel.across[::-1, 0]
    below = level <= height
    widest = max(float(across[below].max()), float(np.interp(height, level, across)))
    return max(widest + 2 * float(out), _opening(oven) + 2 * max(shop.cover_lap, shop.frame_width))


def _bevelled(name: str, part: str, material: str, thickness: float, ring: Ring, note: str = "") -> Blank:
    return _piece(name, part, material, thickness, ring.facets, ring.outer, inner=ring.inner, note=note)


def _piece(
    name: str,
    part: str,
    material: str,
    thickness: float,
    count: int,
    outline: Floats,
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
