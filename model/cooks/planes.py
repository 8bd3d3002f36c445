"""One reading of sunlight into beam and diffuse: from a level plane, one that faces the sun, or the beam alone."""

from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from ..irradiance import CLEANEST_TURBIDITY, Irradiance, clear_irradiance
from ..sun import Place, SunPath
from .record import Plane

Floats = NDArray[np.float64]

_HALVINGS = 50  # of the range in which the global irradiation is sought: below a millionth of a watt
_CLEAREST = (
    1.5  # clearness index no minute passes, with sunlit clouds beside the sun: common practice, no source
)


class Sun(NamedTuple):
    """What splitting asks of the sun, float64[minute] but for the day."""

    sine: Floats  # of its elevation, 0 while it is down
    day: int  # of the year
    brightest: Floats  # W/m2 global that no minute passes
    cleanest: Floats  # W/m2 beam through the cleanest air
    clear: Irradiance  # of a cloudless sky


def sun_of(path: SunPath, place: Place, clear: Irradiance) -> Sun:
    """The sun along one path, and how bright beam and sky get."""
    sine, middle = np.maximum(path.to_sun[0, :, 2], 0.0), path.times.shape[1] // 2
    return Sun(
        sine=sine,
        day=int(pd.DatetimeIndex(path.times[0]).day_of_year[middle]),
        brightest=_CLEAREST * path.extraterrestrial[0] * sine,
        cleanest=clear_irradiance(path, place, np.array([CLEANEST_TURBIDITY])).dni[0],
        clear=Irradiance(*(part[0] for part in clear)),
    )


def split(measured: Floats, diffuse: Floats | None, plane: Plane, *, sun: Sun, albedo: float) -> Irradiance:
    """Beam, diffuse and global that give what was measured. float64[minute] each [W/m2]

    What they give on the plane of the reading is what was read, even where a reading of the diffuse contradicts it.
    The sky is as bright everywhere, as the model's is. Without a reading of the diffuse the beam follows from the
    global by a relation made for hours, which puts the beam of clear minutes some 5 to 10 % too low; so it is scaled
    to give the clear sky's own beam for the clear sky's global, as DIRINDEX scales another relation.

    Parameters
    ----------
    measured : float64[minute]   [W/m2]
    diffuse : float64[minute] or None   [W/m2]
        On a horizontal plane.
    plane : str
        What `measured` is of; see `PLANES`.
    albedo : float
        Of the ground, which a plane that faces the sun sees a part of.

    Source
    ------
    Erbs, D. G., Klein, S. A. and Duffie, J. A., Estimation of the diffuse radiation fraction for hourly, daily and
    monthly-average global radiation, Solar Energy 28 (1982) 293-302, through pvlib; the scaling: Perez, R. et al.,
    A new operational model for satellite-derived irradiances, Solar Energy 73 (2002) 307-317.
    """
    if plane == "beam":
        dhi = sun.clear.dhi if diffuse is None else diffuse
        return Irradiance(measured, dhi, measured * sun.sine + dhi)
    of_beam, of_sky = _weights(plane, sun.sine, albedo)
    if diffuse is None:
        beam = _beam_erbs(measured, of_beam, of_sky, sun)
    else:
        beam = (measured - of_sky * diffuse) / np.where(sun.sine > 0, of_beam, np.inf)
    beam = np.clip(beam, 0.0, np.minimum(sun.cleanest, measured / np.where(of_beam > 0, of_beam, np.inf)))
    dhi = np.maximum(measured - of_beam * beam, 0.0) / of_sky
    return Irradiance(beam, dhi, beam * sun.sine + dhi)


def _weights(plane: Plane, sine: Floats, albedo: float) -> tuple[Floats, Floats]:
    """What a watt of beam and one of diffuse give on the plane, with what the ground sends back of them."""
    if plane == "level":
        return sine, np.ones_like(sine)
    ground = albedo * (1 - sine) / 2
    return 1 + ground * sine, (1 + sine) / 2 + ground


def _beam_erbs(measured: Floats, of_beam: Floats, of_sky: Floats, sun: Sun) -> Floats:
    """The beam whose global, split by its clearness, gives what was measured: it grows with the global."""
    low, high = np.zeros_like(measured), sun.brightest
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        beam = _beam_of_global(middle, sun)
        less = of_beam * beam + of_sky * (middle - beam * sun.sine) < measured
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return _beam_of_global(high, sun)


def _beam_of_global(ghi: Floats, sun: Sun) -> Floats:
    zenith = np.degrees(np.arccos(sun.sine))
    beam, of_clear = (pvlib.irradiance.erbs(g, zenith, sun.day)["dni"] for g in (ghi, sun.clear.ghi))
    return np.asarray(beam * sun.clear.dni / np.where(of_clear > 0, of_clear, np.inf), np.float64)
