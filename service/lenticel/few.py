"""The hard tier of few taxa as whole numbers, where one operation of Python costs a tenth of a call of NumPy."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from itertools import accumulate
from operator import or_

import numpy as np
import numpy.typing as npt


class Few:
    """The hard tier of few taxa as Python integers, bit `i` for taxon `i`: a call of NumPy costs ten times what it does there.

    `hard` and `terminal` are those of the snapshot; `everything` has the bit of every taxon.
    """

    def __init__(self, hard: npt.NDArray[np.uint64], terminal: npt.NDArray[np.uint64], bounds: npt.NDArray[np.int32], count: int) -> None:
        """From planes (P, W), the lowest taxa (W,), hard low and high bounds (2, Q, N), and N."""
        self.hard = [number_of(plane) for plane in hard]
        self.terminal, self.everything = number_of(terminal), (1 << count) - 1
        self._bounds = bounds
        self._ladders: dict[int, tuple[list[int], list[int], list[int], list[int]]] = {}

    def meeting(self, slot: int, spans: Iterable[tuple[int, int]]) -> int:
        """The taxa whose hard interval meets one of the spans: two look-ups in sorted bounds a span."""
        if slot not in self._ladders:
            self._ladders[slot] = self._climb(slot)
        lows, starting_by, highs, ending_from = self._ladders[slot]
        result = 0
        for start, end in spans:
            result |= starting_by[bisect_right(lows, end)] & ending_from[bisect_left(highs, start)]
        return result

    def _climb(self, slot: int) -> tuple[list[int], list[int], list[int], list[int]]:
        """Both bounds sorted; the taxa with one of the k lowest low bounds; those without one of the k lowest high bounds."""
        low, high = self._bounds[0, slot], self._bounds[1, slot]
        rising, falling = np.argsort(low), np.argsort(high)[::-1]
        alive = (low <= high).tolist()
        starting = accumulate((alive[taxon] << taxon for taxon in rising.tolist()), or_, initial=0)
        ending = accumulate((1 << taxon for taxon in falling.tolist()), or_, initial=0)
        return low[rising].tolist(), list(starting), high[falling[::-1]].tolist(), list(ending)[::-1]


def number_of(words: npt.NDArray[np.uint64]) -> int:
    """The words (W,) as one integer, bit `i` for taxon `i`."""
    return int.from_bytes(words.tobytes(), "little")


def places_of(number: int, count: int) -> npt.NDArray[np.intp]:
    """The places of the set bits of an integer below `2 ** count`, ascending."""
    octets = np.frombuffer(number.to_bytes(-(-count // 8), "little"), np.uint8)
    return np.unpackbits(octets, bitorder="little").view(np.bool_).nonzero()[0]
