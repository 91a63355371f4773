"""What check says to bring next."""

from habitat.commands.check.further import ADDITIONS, next_step
from habitat.study.model import VECTOR_LAYERS, raster_layers


def test_what_is_asked_for_can_be_named_in_a_study():
    known = {*VECTOR_LAYERS, *raster_layers()}
    assert all(name in known for one in ADDITIONS for name in one.any_of)


def test_each_addition_is_followed_by_the_next_until_all_is_there():
    given, told = {"yards"}, []
    while step := next_step(given):
        told.append(step)
        given.add(ADDITIONS[len(told) - 1].any_of[0])
    assert len(told) == len(ADDITIONS)
    assert len(set(told)) == len(told)
