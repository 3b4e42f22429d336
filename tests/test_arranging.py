"""What is compiled for a process that asks often finds what NumPy finds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lenticel import arranging
from lenticel.judging import COUNT_BITS, Told

KERNELS = arranging._compiled()
COUNTED = st.tuples(*[st.integers(0, 3)] * 4)
BIT = st.integers(-400, 60).map(lambda eighths: eighths / 8)  # so that many taxa come to the same


@st.composite
def told(draw: st.DrawFn) -> Told:
    """What is told of up to forty taxa; of some the same."""
    taxa = draw(st.lists(st.tuples(COUNTED, BIT), max_size=40))
    ones = [sum(number << COUNT_BITS * place for place, number in enumerate(each)) for each, _ in taxa]
    return np.array([ones, [bits for _, bits in taxa]], np.float64).reshape(2, len(taxa))


@pytest.mark.skipif(KERNELS is None, reason="Numba is not installed")
@given(told(), st.booleans())
def test_the_compiled_order_is_that_of_numpy(told: Told, part: bool) -> None:
    """The same places, counts, shares and likeliest, of a table or of a part of a wider one."""
    assert KERNELS
    given_ = np.concatenate([told, told], axis=1)[:, : told.shape[1]] if part else told
    for compiled, plain in zip(KERNELS, (arranging._arranged, arranging._likeliest), strict=True):
        for one, other in zip(compiled(given_), plain(told), strict=True):
            assert np.array_equal(one, other)
            assert np.asarray(one).dtype == np.asarray(other).dtype


@pytest.mark.skipif(KERNELS is None, reason="Numba is not installed")
def test_a_process_that_asks_often_goes_on_with_what_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """The answers before and after are the same."""
    own = arranging._Arranger()
    monkeypatch.setattr(arranging, "_arranger", own)
    monkeypatch.setattr(arranging, "OFTEN", 2)
    monkeypatch.setattr(arranging, "_compiled", lambda: KERNELS)
    table = np.array([[1.0, 2.0**40, 1.0], [0.5, 3.0, 1.0]])
    before = arranging.arranged(table)
    arranging.arranged(table)
    for _ in range(500):
        if own.fast:
            break
        arranging.threading.Event().wait(0.01)
    assert own.fast is KERNELS
    after = arranging.arranged(table)
    assert after.turn.tolist() == before.turn.tolist() == [2, 0, 1]
    assert after.shares.tolist() == before.shares.tolist()
