"""Whom a plan is for where nobody says."""

from habitat.knowledge.wishes import choose_wishes, guests


def test_wishes_are_named_or_recorded_and_nothing_else(knowledge):
    named = choose_wishes(knowledge, named=["monarch"], recorded=["zebra swallowtail"])
    assert named.wished == ("Danaus plexippus",)
    seen = choose_wishes(knowledge, recorded=["gulf fritillary", "nonsense"])
    assert seen.wished == ("Dione vanillae",)
    assert [m.given for m in seen.unresolved] == ["nonsense"]
    assert "Euptoieta claudia" in seen.offered  # shares passion-vines
    nobody = choose_wishes(knowledge)
    assert nobody.wished == ()
    assert set(nobody.offered) == set(knowledge.butterflies.index)


def test_guests_are_fed_by_the_plants_and_not_wished_for(knowledge):
    """Orangetips need mustards, oaks feed hairstreaks and duskywings: common practice."""
    fed = guests(knowledge, ["Papilio troilus"], ["Lindera benzoin"])
    assert "spicebush swallowtail" in guests(knowledge, [], ["Lindera benzoin"])
    assert "spicebush swallowtail" not in fed
    assert guests(knowledge, [], ["no such plant"]) == ()
    assert set(knowledge.region.widespread) <= set(knowledge.butterflies.index)
