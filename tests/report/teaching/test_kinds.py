"""Words of the pages to teach with."""

from habitat.report.teaching.kinds import UNDONE, kind_page
from tests.report.small_plan import small_plan


def test_a_moth_spins_a_cocoon_or_is_a_pupa_and_its_stings_are_told(tmp_path):
    """The io moth's family spins a cocoon; its caterpillars sting (moth_care.csv)."""
    plan = small_plan(tmp_path)
    page = kind_page(plan, "Automeris io")
    assert [stage.name for stage in page.stages] == ["Egg", "Caterpillar", "Cocoon", "Adult"]
    assert any("sting" in line for line in page.undone)
    assert set(UNDONE) <= set(page.undone)
    sphinx = kind_page(plan, "Hemaris diffinis")
    assert [stage.name for stage in sphinx.stages] == ["Egg", "Caterpillar", "Pupa", "Adult"]
