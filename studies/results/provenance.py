"""Where a result came from, as attributes of its dataset."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import xarray as xr

from .kept_files import with_files


class ProvenanceError(ValueError):
    """A dataset and its provenance contradict each other."""


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """Where a result came from: enough to run it again from the file alone.

    Parameters
    ----------
    title : str
    config : str
        The whole effective config, as text.
    model_hash : str
        Of the model's sources.
    versions : dict of str
        Of the project and the libraries that matter.
    seed : int
    created : str
        UTC, ISO 8601, for example "2026-03-01T12:00:00Z".
    counts : dict of int
        Designs, days, runs: whatever was counted.
    base_design : dict, optional
        Factor -> value of the design that the study started from, which an earlier study may have chosen.
    inputs : dict of bytes, optional
        Files the config names, by the name it gives them.
    """

    title: str
    config: str
    model_hash: str
    versions: Mapping[str, str]
    seed: int
    created: str
    counts: Mapping[str, int]
    base_design: Mapping[str, Any] = field(default_factory=dict)
    inputs: Mapping[str, bytes] = field(default_factory=dict)

    def attributes(self) -> dict[str, str | int]:
        """As attributes of a dataset."""
        return {
            "title": self.title,
            "config": self.config,
            "config_hash": text_hash(self.config),
            "model_hash": self.model_hash,
            "versions": json.dumps(dict(self.versions), sort_keys=True),
            "seed": self.seed,
            "created": self.created,
            "counts": json.dumps(dict(self.counts), sort_keys=True),
            "base_design": json.dumps(dict(self.base_design)),
        }


# Attributes that `stamp` sets.
STAMPED = (
    "title",
    "config",
    "config_hash",
    "model_hash",
    "versions",
    "seed",
    "created",
    "counts",
    "base_design",
)


def text_hash(text: str) -> str:
    """SHA-256 of a text in UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def stamp(dataset: xr.Dataset, provenance: Provenance) -> xr.Dataset:
    """The dataset with its provenance, and the files that its config names.

    Raises
    ------
    ProvenanceError
        The dataset says it was made with another seed.
    """
    seed = dataset.attrs.get("seed", provenance.seed)
    if seed != provenance.seed:
        raise ProvenanceError(f"the dataset was made with seed {seed}, its provenance says {provenance.seed}")
    return with_files(dataset, provenance.inputs).assign_attrs(provenance.attributes())
