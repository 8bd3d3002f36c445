"""Rows of numbers that are known, found again by their bits: a million in some hundred megabytes.

Rows stand in one array that doubles when it is full, beside sorted 64-bit hashes of them. Two hashes may be equal by
chance, so what is found is always compared bit for bit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Hashes = NDArray[np.uint64]

NONE = -1  # place of a row that is not known

_ROOM = 256  # rows to begin with
_LATE = 16  # new hashes are sorted in as soon as they are more than a part in so many of all

# SplitMix64: Steele, Lea and Flood, Fast splittable pseudorandom number generators, OOPSLA 2014, figure 14, whose last
# mixing step it takes (constants from memory). Any good mixing would do: equal hashes cost time, never correctness.
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)


class KnownRows:
    """Different rows of `keys` numbers, each with `width` more, in the order they were added.

    Parameters
    ----------
    keys : int
        Numbers by which a row is known.
    width : int
        Numbers kept with each.
    """

    def __init__(self, keys: int, width: int) -> None:
        self._keys = np.empty((_ROOM, keys))
        self._numbers = np.empty((_ROOM, width))
        self._status = np.empty(_ROOM, np.int64)
        self._count = 0
        self._sorted = _Sorted()
        self._late = _Sorted()

    def __len__(self) -> int:
        """Number of rows."""
        return self._count

    def places(self, keys: Floats) -> Ints:
        """Where each row stands, or `NONE`: int64[row]."""
        hashes = _hashes(keys)
        found = self._sorted.places(hashes, keys, self._keys)
        missing = np.flatnonzero(found == NONE)
        found[missing] = self._late.places(hashes[missing], keys[missing], self._keys)
        return found

    def add(self, keys: Floats, status: Ints, numbers: Floats) -> Ints:
        """Keep the rows that are not known yet; which of them those were, in order: int64[new].

        Parameters
        ----------
        keys : float64[row, key]
        status : int64[row]
        numbers : float64[row, width]
        """
        unknown = np.flatnonzero(self.places(keys) == NONE)
        new: Ints = unknown[first_of_each(keys[unknown])]
        start, stop = self._count, self._count + new.size
        self._make_room(stop)
        self._keys[start:stop] = keys[new]
        self._numbers[start:stop] = numbers[new]
        self._status[start:stop] = status[new]
        self._count = stop
        self._late.insert(_hashes(keys[new]), np.arange(start, stop))
        if _LATE * self._late.size > self._count:
            self._sorted.merge(self._late)
            self._late = _Sorted()
        return new

    def status(self, places: Ints) -> Ints:
        """Status of the rows at some places: int64[row]."""
        found: Ints = self._status[places]
        return found

    def numbers(self, places: Ints) -> Floats:
        """Numbers of the rows at some places: float64[row, width]."""
        found: Floats = self._numbers[places]
        return found

    def ran(self, status: int) -> bool:
        """Whether any row has a status other than this one."""
        return bool((self._status[: self._count] != status).any())

    def _make_room(self, rows: int) -> None:
        room = len(self._status)
        if rows <= room:
            return
        while room < rows:
            room *= 2
        # `resize` lets the system move the pages; copying into a new array would hold both for a moment.
        for array in (self._keys, self._numbers, self._status):
            array.resize((room, *array.shape[1:]), refcheck=False)


class _Sorted:
    """Hashes in order, and the place of the row each belongs to."""

    def __init__(self) -> None:
        self._hashes = np.empty(0, np.uint64)
        self._places = np.empty(0, np.int64)

    @property
    def size(self) -> int:
        return self._hashes.size

    def insert(self, hashes: Hashes, places: Ints) -> None:
        """Sort some more in."""
        order = np.argsort(hashes, kind="stable")
        at = np.searchsorted(self._hashes, hashes[order])
        self._hashes = np.insert(self._hashes, at, hashes[order])
        self._places = np.insert(self._places, at, places[order])

    def merge(self, other: _Sorted) -> None:
        """Sort all of another in."""
        self.insert(other._hashes, other._places)

    def places(self, hashes: Hashes, keys: Floats, known: Floats) -> Ints:
        """Place of the row of each hash whose bits are the same, or `NONE`."""
        found = np.full(hashes.size, NONE, np.int64)
        asked = np.arange(hashes.size)
        at = np.searchsorted(self._hashes, hashes)
        while True:
            here = at < self._hashes.size
            here[here] = self._hashes[at[here]] == hashes[asked[here]]
            asked, at = asked[here], at[here]
            if not asked.size:
                return found
            places = self._places[at]
            same = (_bits(known[places]) == _bits(keys[asked])).all(axis=1)
            found[asked[same]] = places[same]
            asked, at = asked[~same], at[~same] + 1  # an equal hash of another row: look at the next


def first_of_each(keys: Floats) -> Ints:
    """The first row of each different one, in order: int64[different].

    Parameters
    ----------
    keys : float64[row, key]
    """
    _, first, group = np.unique(_hashes(keys), return_index=True, return_inverse=True)
    if (_bits(keys[first[group]]) != _bits(keys)).any():  # two rows of one hash: sort by the bits themselves
        _, first = np.unique(_bits(keys), axis=0, return_index=True)
    return np.sort(first).astype(np.int64)


def _bits(keys: Floats) -> Hashes:
    return np.ascontiguousarray(keys, dtype=np.float64).view(np.uint64)


def _hashes(keys: Floats) -> Hashes:
    """A 64-bit hash of each row: uint64[row]."""
    mixed = np.zeros(len(keys), np.uint64)
    for column in _bits(keys).T:
        mixed = (mixed ^ column) + _GOLDEN
        mixed = (mixed ^ (mixed >> np.uint64(30))) * _FIRST
        mixed = (mixed ^ (mixed >> np.uint64(27))) * _SECOND
        mixed ^= mixed >> np.uint64(31)
    return mixed
