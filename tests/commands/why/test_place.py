"""Where habitat why looks: yards and plants that it does not know."""

import pytest

from habitat.errors import HabitatError
from tests.commands.calls import call


def test_why_names_an_unknown_yard_and_plant(study):
    with pytest.raises(HabitatError, match="no yard 'nowhere'"):
        call("why", study, "--yard", "nowhere", "--plant", "swamp milkweed", "--quiet")
    with pytest.raises(HabitatError, match="is not in the tables"):
        call("why", study, "--yard", "P200", "--plant", "zzz", "--quiet")
