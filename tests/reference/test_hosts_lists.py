"""Who eats what, against lists that others published.

Source of host_plants.csv: public extension and nursery lists of butterflies and their host plants for the
Northeast and Midwest, read and compared; "confirmed" stands in two or more of them, "one list" in one. Scott
1986, The Butterflies of North America (from memory).
"""

import csv
from pathlib import Path

import pytest

from habitat.knowledge import load_knowledge
from habitat.knowledge.names import resolve_butterfly
from habitat.settings.knowledge import KnowledgeSettings

ROWS = list(csv.DictReader((Path(__file__).parent / "host_plants.csv").open(encoding="utf-8")))
NOT_OURS = {"Argynnis idalia", "Plebejus samuelis", "Lycaena phlaeas", "Colias philodice", "Pieris rapae"}
"""In the lists but not in our tables: not of the region, or only on hosts that nobody should plant here."""

RENAMED = {"Aristolochia": {"Isotrema", "Endodeca"}, "Desmodium": {"Desmodium", "Hylodesmum"}}


@pytest.fixture(scope="module")
def knowledge():
    return load_knowledge(KnowledgeSettings())


def test_exactly_the_named_butterflies_are_missing(knowledge):
    missing = {r["scientific_name"] for r in ROWS} - {
        r["scientific_name"] for r in ROWS if resolve_butterfly(r["scientific_name"], knowledge).accepted
    }
    assert missing == NOT_OURS


OURS = [r for r in ROWS if r["scientific_name"] not in NOT_OURS]


@pytest.mark.parametrize("row", OURS, ids=[r["butterfly"] for r in OURS])
def test_a_listed_host_is_ours_too(row, knowledge):
    name = resolve_butterfly(row["scientific_name"], knowledge).accepted
    hosts = knowledge.hosts_of(name)
    taken = {p.split()[0] for p in hosts["plant"]} | set(knowledge.plants.loc[hosts["plant"], "family"])
    listed = {g.strip() for g in row["host_genus_or_family"].split(";")}
    listed |= {new for old in listed for new in RENAMED.get(old, ())}
    assert taken & listed


@pytest.mark.parametrize(
    ("common", "species"),
    [
        ("monarch", {"Asclepias syriaca", "Asclepias incarnata", "Asclepias tuberosa"}),
        ("black swallowtail", {"Zizia aurea"}),
        ("eastern tiger swallowtail", {"Liriodendron tulipifera", "Prunus serotina"}),
        ("spicebush swallowtail", {"Lindera benzoin", "Sassafras albidum"}),
        ("zebra swallowtail", {"Asimina triloba"}),
        ("eastern giant swallowtail", {"Zanthoxylum americanum", "Ptelea trifoliata"}),
        ("Baltimore checkerspot", {"Chelone glabra"}),
        ("hackberry emperor", {"Celtis occidentalis"}),
        ("red admiral", {"Boehmeria cylindrica"}),
        ("silver-spotted skipper", {"Robinia pseudoacacia"}),
    ],
)
def test_species_in_the_notes_of_the_lists_are_hosts(common, species, knowledge):
    name = resolve_butterfly(common, knowledge).accepted
    assert species <= set(knowledge.hosts_of(name)["plant"])
