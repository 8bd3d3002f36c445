"""The oven frame: z along the optical axis, y up the mouth's slope, x to the right of one who looks in."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def oven_frame(azimuth: Floats, elevation: Floats) -> Floats:
    """Rotation from east-north-up into the oven frame. float64[..., 3, 3]

    Rows are the oven's x, y and z in east-north-up; they stay defined at the zenith, where y points away from
    the azimuth set.
    """
    azimuth, elevation = np.broadcast_arrays(azimuth, elevation)
    sin_a, cos_a, sin_e, cos_e = np.sin(azimuth), np.cos(azimuth), np.sin(elevation), np.cos(elevation)
    rows = [
        [-cos_a, sin_a, np.zeros_like(sin_a)],
        [-sin_a * sin_e, -cos_a * sin_e, cos_e],
        [sin_a * cos_e, cos_a * cos_e, sin_e],
    ]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def to_oven_frame(vectors: Floats, azimuth: Floats, elevation: Floats) -> Floats:
    """Vectors of east-north-up as the oven set to these angles sees them. float64[..., 3]"""
    return np.asarray(np.einsum("...ij,...j->...i", oven_frame(azimuth, elevation), vectors))


def pot_up(elevation: Floats) -> Floats:
    """The world's up, along which the pot hangs plumb, in the oven frame. float64[..., 3]"""
    return np.stack([np.zeros_like(elevation), np.cos(elevation), np.sin(elevation)], axis=-1)
