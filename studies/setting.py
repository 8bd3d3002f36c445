"""What every study stands on: a design, its days, its materials and prices, and the numbers of the model itself."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr

from ..model import (
    Catalogue,
    CookRecord,
    Design,
    DriveTrain,
    Price,
    Sky,
    Table,
    load_catalogue,
    simulate,
    source_hash,
)
from .asking.quantity import System


@dataclass(frozen=True, kw_only=True)
class Setting:
    """A design and all that surrounds it; studies vary the design and leave the rest.

    Parameters
    ----------
    design : Design
        The one that studies start from.
    sky : Sky
        Days it is run on, and their place.
    catalogue, prices, currency
        Materials and foods; what they cost, in what.
    rays : int
        Rays of the beam each minute.
    seed : int
        Of the ray tracer and of every sample; 1 or more.
    train : DriveTrain, optional
        Wheel and motor of a drive that is given by its parts.
    cooks : tuple of CookRecord
        Test cooks of the oven, for the studies that compare it with what was measured.
    shown_in : "metric" or "inch"
        Units of words, figures and papers; every stored number is in SI whatever it is.
    """

    design: Design
    sky: Sky
    catalogue: Catalogue = field(default_factory=load_catalogue)
    prices: Mapping[str, Price] = field(default_factory=dict)
    currency: str = ""
    rays: int = 32
    seed: int = 1
    train: DriveTrain | None = None
    shown_in: System = "metric"
    cooks: tuple[CookRecord, ...] = ()

    def simulated(self, designs: Design | Sequence[Design] | Table | None = None, **how: Any) -> xr.Dataset:
        """The setting's own design, or others, on its days; `how` goes to `simulate`."""
        return simulate(
            self.design if designs is None else designs,
            self.sky,
            rays=self.rays,
            seed=self.seed,
            catalogue=self.catalogue,
            prices=self.prices,
            currency=self.currency,
            **how,
        )

    @cached_property
    def identity(self) -> str:
        """Hash of all that decides a design's outcomes: the model's sources and everything here but the design."""
        digest = hashlib.sha256(source_hash().encode())
        prices = sorted((name, repr(price)) for name, price in self.prices.items())
        digest.update(repr((self.catalogue, prices, self.rays, self.seed, self.sky.place)).encode())
        digest.update(_bytes_of(tuple(sorted(vars(self.sky).items()))))
        return digest.hexdigest()[:20]


def _bytes_of(value: Any) -> bytes:
    """A value as bytes that differ where it differs; printing an array would leave most of it out."""
    if isinstance(value, tuple):
        return b"(" + b",".join(map(_bytes_of, value)) + b")"
    if isinstance(value, np.ndarray):
        return f"{value.dtype}{value.shape}".encode() + np.ascontiguousarray(value).tobytes()
    return repr(value).encode()
