"""Counting, for every plane of bits at once, how many of some taxa have the bit: the one thing that must run at the speed of memory.

Compiled by Numba where it is installed (the extra `fast`), else by NumPy; the counts are the same. One thread: a second one gains next to
nothing where memory is the limit.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from lenticel.snapshot import Planes

Octets = npt.NDArray[np.uint8]
Places = npt.NDArray[np.intp]
Counts = npt.NDArray[np.int64]

CHUNK = 4096  # rows that NumPy unpacks at a time
FULL = 255  # rows after which a counter of 8 bits must be emptied


def _by_planes(left: Planes, planes: Planes) -> Counts:
    return np.array([np.bitwise_count(left & plane).sum(dtype=np.int64) for plane in planes], np.int64)


def _by_rows(rows: Places, packed: Octets) -> Counts:
    found = np.zeros(packed.shape[1] * 8, np.int64)
    for start in range(0, len(rows), CHUNK):
        found += np.unpackbits(packed[rows[start : start + CHUNK]], axis=1, bitorder="little").sum(axis=0, dtype=np.int64)
    return found


@cache
def _compiled() -> tuple[Callable[[Planes, Planes], Counts], Callable[[Places, Octets], Counts]] | None:
    try:
        import numba
        from numba import types
        from numba.extending import intrinsic
    except ImportError:
        return None

    def ones(_context: Any, _word: Any) -> Any:
        """The number of set bits of a word, as the instruction that processors have for it."""
        return types.uint64(types.uint64), lambda _target, builder, _signature, given: builder.ctpop(given[0])

    set_bits: Any = intrinsic(ones)

    def by_planes(left: Planes, planes: Planes) -> Counts:
        found = np.zeros(planes.shape[0], np.int64)
        whole = planes.shape[0] // 4 * 4
        for place in range(0, whole, 4):  # four streams at a time: one alone waits for its own sums
            one, two, three, four = planes[place], planes[place + 1], planes[place + 2], planes[place + 3]
            a, b, c, d = np.uint64(0), np.uint64(0), np.uint64(0), np.uint64(0)
            for word in range(left.shape[0]):
                a += set_bits(left[word] & one[word])
                b += set_bits(left[word] & two[word])
                c += set_bits(left[word] & three[word])
                d += set_bits(left[word] & four[word])
            found[place], found[place + 1], found[place + 2], found[place + 3] = a, b, c, d
        for place in range(whole, planes.shape[0]):
            for word in range(left.shape[0]):
                found[place] += np.int64(set_bits(left[word] & planes[place, word]))
        return found

    def by_rows(rows: Places, packed: Octets) -> Counts:
        width = packed.shape[1]
        found = np.zeros((8, width), np.int64)
        small = np.zeros((8, width), np.uint8)
        for at in range(rows.shape[0]):
            row = packed[rows[at]]
            for bit in range(8):
                counter = small[bit]
                for octet in range(width):
                    counter[octet] += np.uint8((row[octet] >> np.uint8(bit)) & np.uint8(1))
            if at % 255 == 254:
                found += small
                small[:] = 0
        found += small
        return found.T.copy().reshape(-1)

    compile_ = numba.njit(cache=False, nogil=True, boundscheck=False)
    return compile_(by_planes), compile_(by_rows)


def compiled() -> bool:
    """Whether counting is compiled. Numba is imported when this, or a count, is asked for first: few services ever count, and each would start later for it."""
    return _compiled() is not None


def by_planes(left: Planes, planes: Planes) -> Counts:
    """How many of the taxa in `left`, words (W,), have the bit of each plane (P, W): streams all planes; int64 (P,)."""
    fast = _compiled()
    return fast[0](np.asarray(left), np.asarray(planes)) if fast else _by_planes(left, planes)


def by_rows(rows: Places, packed: Octets) -> Counts:
    """The same of the taxa at some places, from their rows (N, B) of octets: reads only these; int64 (8 B,)."""
    fast = _compiled()
    return fast[1](rows, packed) if fast else _by_rows(rows, packed)
