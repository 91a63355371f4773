"""Cells under a bed: their shares of it, and which need costs most over them."""

import numpy as np
import pytest
from shapely import box
from shapely.affinity import translate

from habitat.planting.sites.cells import cell_weights, costliest
from habitat.planting.sites.edges import long_axis
from habitat.suitability.types import NO_LIMIT
from tests.support.yards import ORIGIN, scene


def test_cell_weights_are_shares_of_the_polygon():
    one = scene(translate(box(0, 0, 18, 36), *ORIGIN), translate(box(4, 10, 13, 20), *ORIGIN))
    shape = translate(box(2.0, 3.0, 4.5, 4.0), *ORIGIN)
    _rows, _cols, weight = cell_weights(shape, one.window.grid)
    assert weight.sum() == pytest.approx(1.0)
    assert sorted(weight.round(3)) == [0.2, 0.4, 0.4]
    assert long_axis(shape) == (1.0, 0.0)


def test_the_costliest_need_is_the_one_that_takes_most_over_all_cells():
    low = np.array([[100, 200], [255, 255], [55, 155]], np.uint8)
    codes = np.array([[1, 2], [NO_LIMIT, NO_LIMIT], [1, 2]], np.uint8)
    # lost: 155 of the first need and 55 of the second, half a bed each; nothing; 200 and 100 by 0.2 and 0.8
    assert costliest(low, codes, np.array([0.5, 0.5])).tolist() == [1, NO_LIMIT, 1]
    assert costliest(low, codes, np.array([0.2, 0.8])).tolist() == [2, NO_LIMIT, 2]
