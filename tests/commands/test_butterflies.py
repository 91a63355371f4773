"""Looking butterflies up."""

import json
import re

import pytest

from habitat.errors import HabitatError
from tests.commands.calls import call


def test_butterflies_for_a_plant():
    rows = json.loads(call("butterflies", "--for", "spicebush", "--json"))["rows"]
    assert "Papilio troilus" in {r["butterfly"] for r in rows}


def test_a_misspelt_name_is_never_guessed():
    with pytest.raises(HabitatError, match=r"[Dd]id you mean") as caught:
        call("plants", "swamp milkwed")
    assert str(caught.value).count("did you mean") == str(caught.value).lower().count("did you mean") == 1
    assert "did you mean Asclepias incarnata (swamp milkweed)? " in str(caught.value)


@pytest.mark.parametrize(
    ("said", "lead", "genus"),
    [
        ("violets", "names a whole genus (Viola); of its kinds the tables hold", "Viola"),
        ("oak", "names a whole genus (Quercus); of its kinds the tables hold", "Quercus"),
        ("milkwed", "of the kind milkweed, if that is meant, they hold", "Asclepias"),
    ],
)
def test_a_common_word_leads_to_the_kinds_that_carry_it(said, lead, genus):
    with pytest.raises(HabitatError, match=f"{re.escape(lead)} {genus} .*write which, if it is one"):
        call("plants", said)
