"""Areas by which procedures load a cooker: what it intercepts of the beam, and its clear aperture."""

import math

import numpy as np

from ..cooks import CookRecord
from ..cooks.settings import aimed_as_noted
from ..cooks.weather import Outdoors
from ..design import Design
from ..light.facets import polygon_area
from ..oven import ARCHETYPES


def mouth_area_of(design: Design) -> float:
    """Open end of the funnel. [m2]"""
    return float(polygon_area(design.oven.funnel.facets, design.oven.funnel.mouth))


def aperture_area_of(design: Design) -> float:
    """Clear cover through which light enters the cavity: over the mouth, or in the throat over a box. [m2]"""
    funnel = design.oven.funnel
    if design.oven.box.archetype == ARCHETYPES[1]:
        return float(polygon_area(funnel.facets, float(funnel.wall.throat)))
    return mouth_area_of(design)


def mean_intercept_area(record: CookRecord, design: Design, under: Outdoors | None) -> float:
    """Aperture and mirrors projected on the plane square to the beam, on average over a cook. [m2]

    The funnel stands round its aperture, so together they intercept what passes its mouth. The oven stands as the
    record says it was set, or as its aiming says where nothing was noted; nan for a cook without weather.

    Source
    ------
    ASAE S580, 2003 (from memory): the sum of aperture and reflector areas projected on the plane perpendicular to
    direct beam radiation, averaged for the test.
    """
    if under is None:
        return math.nan
    stood = aimed_as_noted([design.aiming], under.sky, record, under.minutes).aim
    return mouth_area_of(design) * float(np.cos(stood.off_axis).mean())
