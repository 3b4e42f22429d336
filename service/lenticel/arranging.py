"""The taxa in the order of an answer, by what all observations tell of them together, and how likely each is.

By NumPy at first. A process that asks often has the same compiled by Numba where that is installed (the extra `fast`): between other requests
some forty calls on a hundred numbers each take far longer than the sums. What is found is the same.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from itertools import count
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from lenticel.engine import CONTRADICTS
from lenticel.judging import BITS, COUNT_BITS, COUNTS, Told

OFTEN = 5000  # times after which a process is taken for one that goes on asking: compiling takes two seconds
LIKELIEST = 5  # how many are named
SLIPS_FROM = COUNT_BITS * CONTRADICTS  # the bit of what is counted from which on it counts the contradictions
FAR = 1e6  # bits; no support comes near it
SUPPORT_PARTS = 100.0  # of one bit, to which the support is rounded
PARTS = 10_000.0  # of one, to which shares are rounded
NONE = np.zeros(0)

Numbers = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


class Arranged(NamedTuple):
    """Taxa in order: fewest contradictions first, then what speaks for them, then as they came.

    `turn` are their places, and in this order `counted` is what is told of each (`judging.counts`), `slips` the contradictions, `support` the bits. The first
    `remaining` are contradicted by nothing; `shares` says how likely each of these is among them.
    """

    turn: Places
    counted: npt.NDArray[np.int64]
    slips: Numbers
    support: Numbers
    remaining: int
    shares: Numbers


class Likeliest(NamedTuple):
    """The places of the likeliest taxa, likeliest first, and how likely each is among all, in parts of ten thousand."""

    places: Places
    parts: Numbers


# Figures as arrays without a dimension, since NumPy takes twice as long with numbers of Python.
_FAR, _ONE_SLIP, _SUPPORT_PARTS, _PARTS = (np.array(each) for each in (FAR, 0.5**SLIPS_FROM, SUPPORT_PARTS, PARTS))


def _arranged(told: Told) -> Arranged:
    support, slips = np.rint(told[BITS] * _SUPPORT_PARTS) / _SUPPORT_PARTS, np.floor(told[COUNTS] * _ONE_SLIP)
    turn = (slips * _FAR - support).argsort(kind="stable")
    told, slips = told.take(turn, axis=1), slips.take(turn)
    remaining = int(slips.searchsorted(0, "right"))
    shares = _parts(told[BITS, :remaining]) / _PARTS
    return Arranged(turn, told[COUNTS].astype(np.int64), slips, support.take(turn), remaining, shares)


def _likeliest(told: Told) -> Likeliest:
    parts = _parts(told[BITS])
    short = (_PARTS - parts).astype(np.uint16)  # what is wanting to the whole: numbers of 16 bits are put in order by their digits, sooner
    places = short.argsort(kind="stable")[:LIKELIEST]
    return Likeliest(places, parts[places])


def _parts(bits: Numbers) -> Numbers:
    """How likely each of some taxa is among them, by their bits, in whole parts of ten thousand."""
    if not bits.size:
        return NONE
    odds = np.exp2(bits - bits[bits.argmax()])
    return np.asarray(np.rint(odds / np.add.reduce(odds) * _PARTS))


def _compiled() -> tuple[Callable[[Told], Any], Callable[[Told], Any]] | None:
    try:
        import numba
    except ImportError:
        return None
    numbers = numba.float64[:]
    of_told = numba.njit([(numba.float64[:, :],)], nogil=True)

    def in_parts(bits: Numbers) -> Numbers:
        found = np.empty(bits.shape[0])
        if found.shape[0]:
            most, whole = bits.max(), 0.0
            for at in range(found.shape[0]):
                found[at] = 2.0 ** (bits[at] - most)
                whole += found[at]
            for at in range(found.shape[0]):
                found[at] = np.rint(found[at] / whole * PARTS)
        return found

    parts: Any = numba.njit([numbers(numbers)], nogil=True)(in_parts)
    one_slip = 0.5**SLIPS_FROM

    def arranged(told: Told) -> Any:
        taxa = told.shape[1]
        key, turned_slips, support, bits = np.empty(taxa), np.empty(taxa), np.empty(taxa), np.empty(taxa)
        counted = np.empty(taxa, np.int64)
        for at in range(taxa):
            key[at] = np.floor(told[COUNTS, at] * one_slip) * FAR - np.rint(told[BITS, at] * SUPPORT_PARTS) / SUPPORT_PARTS
        turn = np.argsort(key, kind="mergesort")
        remaining = 0
        for place in range(taxa):
            at = turn[place]
            bits[place] = told[BITS, at]
            counted[place] = np.int64(told[COUNTS, at])
            turned_slips[place] = np.floor(told[COUNTS, at] * one_slip)
            support[place] = np.rint(bits[place] * SUPPORT_PARTS) / SUPPORT_PARTS
            remaining += turned_slips[place] == 0
        return turn, counted, turned_slips, support, remaining, parts(bits[:remaining]) / PARTS

    def likeliest(told: Told) -> Any:
        left = parts(told[BITS])
        most = min(LIKELIEST, left.shape[0])
        places, found = np.empty(most, np.intp), np.empty(most)
        for nth in range(most):
            place = left.argmax()
            places[nth], found[nth], left[place] = place, left[place], -1.0
        return places, found

    return of_told(arranged), of_told(likeliest)


class _Arranger:
    """Which of the two is in use."""

    def __init__(self) -> None:
        self.asked = count(1)
        self.fast: tuple[Callable[[Told], Any], Callable[[Told], Any]] | None = None

    def compile(self) -> None:
        self.fast = _compiled()


_arranger = _Arranger()


def arranged(told: Told) -> Arranged:
    """The taxa in order, by what is told of each, float64 (2, N) as `judging.Judged` has it, or the sum of several such."""
    if next(_arranger.asked) == OFTEN:
        threading.Thread(target=_arranger.compile, name="compile").start()
    return Arranged(*_arranger.fast[0](told)) if _arranger.fast else _arranged(told)


def likeliest(told: Told) -> Likeliest:
    """The likeliest of the taxa of which the same is told, whether or not something contradicts them."""
    return Likeliest(*_arranger.fast[1](told)) if _arranger.fast else _likeliest(told)
