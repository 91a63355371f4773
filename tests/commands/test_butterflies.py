"""Looking butterflies up."""

import json

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
    ("said", "genus"), [("violets", "Viola"), ("oak", "Quercus"), ("milkwed", "Asclepias")]
)
def test_a_common_word_leads_to_the_kinds_that_carry_it(said, genus):
    with pytest.raises(HabitatError, match=f"of the kind .*, they hold {genus} .*write which"):
        call("plants", said)
