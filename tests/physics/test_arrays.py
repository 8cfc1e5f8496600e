"""Block by block must give what one pass gives, for every shape."""

import tracemalloc

import numpy as np
import pytest

from monitor.physics import moist_air
from monitor.physics.arrays import BLOCK, by_blocks


@pytest.mark.parametrize("shape", [(), (1,), (3,), (BLOCK,), (BLOCK + 1,), (7, 5), (2, 3, 4), (0,)])
def test_shape_in_is_shape_out(shape):
    t = np.full(shape, 20.0)
    assert np.shape(moist_air.dew_point(t, 50.0)) == shape


def test_scalars_give_a_float64_and_not_an_array():
    assert type(moist_air.dew_point(20, 50)) is np.float64


def test_blocks_give_what_one_pass_gives():
    values = np.random.default_rng(1).normal(size=(3, BLOCK))
    assert np.array_equal(
        by_blocks(lambda a, b: a * b + 1, values, values.T.copy().T), values**2 + 1
    )


def test_inputs_are_broadcast_and_left_as_they_were():
    column, row = np.linspace(-20, 30, 6)[:, None], np.linspace(10, 100, 5)
    before = column.copy(), row.copy()
    answer = moist_air.dew_point(column, row)
    assert answer.shape == (6, 5)
    assert answer[2, 3] == moist_air.dew_point(column[2, 0], row[3])
    assert np.array_equal(column, before[0])
    assert np.array_equal(row, before[1])


@pytest.mark.parametrize("kind", [np.float32, np.int64])
def test_other_kinds_of_number_are_taken(kind):
    t = np.array([20, 10], dtype=kind)
    assert moist_air.dew_point(t, 50).dtype == np.float64


def test_strided_views_are_taken():
    t = np.linspace(-20, 30, 20001)
    assert np.array_equal(moist_air.dew_point(t[::-2], 60.0), moist_air.dew_point(t, 60.0)[::-2])


def test_a_million_dew_points_need_no_temporary_of_the_input_size():
    t, rh = np.full(1_000_000, 10.0), np.full(1_000_000, 70.0)
    tracemalloc.start()
    moist_air.dew_point(t, rh)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 2 * t.nbytes  # one of them is the answer
