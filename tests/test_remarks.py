"""Remarks are plain data: frozen, hashable, without numbers of arrays."""

import numpy as np
import pytest

from habitat.remarks import Remark, Subject, remark


def test_equal_facts_make_equal_remarks():
    one, two = (remark("k", Subject(yards=("a",)), b=1, a=(2.0, "x")) for _ in range(2))
    assert one == two
    assert hash(one) == hash(two)
    assert one.facts == (("a", (2.0, "x")), ("b", 1))
    assert one["b"] == 1


@pytest.mark.parametrize("value", [np.float64(1.0), np.int64(1), [1], {"a": 1}, (1, [2]), object()])
def test_what_is_not_plain_is_refused(value):
    with pytest.raises(TypeError, match="k: fact"):
        remark("k", fact=value)


def test_remarks_within_remarks_are_found():
    inner = remark("inner", n=1)
    outer = remark("outer", one=inner, many=(inner, (remark("deep"),)))
    assert sorted(r.kind for r in outer.within()) == ["deep", "inner", "inner", "outer"]
    assert isinstance(next(outer.within()), Remark)


def test_a_household_says_only_what_is_known():
    assert Subject(household=("children",)).household == ("children",)
    with pytest.raises(ValueError, match="shoe_size"):
        Subject(household=("shoe_size",))
