"""``habitat warm-up`` says what it made ready."""

from tests.commands.calls import call


def test_it_tells_what_is_ready():
    lines = call("warm-up").splitlines()
    assert [line.partition(":")[0] for line in lines] == ["yards and beds", "the corridor"]
    assert call("warm-up", "--quiet") == ""
