"""A bed from a few answers: the rules of beds, what is not known, who is kept from harm, equal answers."""

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin
from shapely.affinity import translate

import habitat
from habitat.bed import design_bed
from habitat.bed.design import MARGIN_M, OPEN_PURSE, SEED, bed_crs, bed_settings, read_wishes
from habitat.bed.place import find_place
from habitat.errors import NotFoundError, ParameterError
from habitat.knowledge import load_knowledge
from habitat.knowledge.hazards import hazard_action
from habitat.planting.communities.compose import SEASON_BITS
from habitat.planting.communities.rules import STYLES
from habitat.settings.knowledge import KnowledgeSettings

PLACES = [
    ("39.96,-82.99", "4x2m", "full", "loam", "medium", "between"),
    ("40.44,-79.99", "12x6ft", "part", "clay", "medium", "tidy"),
    ("38.25,-85.76", "6x2m", "full", "sand", "dry", "meadow"),
    ("39.77,-86.16", "3x1.5m", "7", "unknown", "unknown", "between"),
    ("38.35,-81.63", "20x8ft", "shade", "loam", "medium", "between"),
    ("37.54,-77.44", "5x3m", "full", "silt loam", "wet", "meadow"),
    ("39.29,-76.61", "8x4m", "4.5", "clay", "medium", "tidy"),
    ("39.74,-75.55", "2x2m", "full", "loam", "dry", "between"),
    ("40.22,-74.77", "10x1.5m", "part", "sand", "medium", "meadow"),
    ("Kentucky", "30x6ft", "full", "unknown", "medium", "between"),
    ("30.27,-97.74", "4x2m", "full", "clay", "medium", "between"),
    ("29.42,-98.49", "12x6ft", "part", "loam", "dry", "tidy"),
    ("32.78,-96.80", "6x2m", "full", "clay", "medium", "meadow"),
    ("31.55,-97.15", "3x1.5m", "8", "unknown", "unknown", "between"),
    ("33.91,-98.49", "20x8ft", "full", "sand", "dry", "between"),
    ("30.63,-96.33", "5x3m", "part", "clay", "wet", "meadow"),
    ("32.45,-99.73", "8x4m", "full", "loam", "dry", "tidy"),
    ("34.17,-97.14", "2x2m", "full", "loam", "medium", "between"),
    ("Oklahoma", "10x1.5m", "5", "sand", "medium", "meadow"),
    ("TX", "30x6ft", "full", "unknown", "medium", "between"),
]
"""Invented beds, ten in each region."""


@pytest.mark.parametrize("case", PLACES, ids=lambda case: f"{case[0]} {case[1]}")
def test_twenty_beds_keep_the_rules(case):
    """The rules of published planting sheets that tests/planting/communities/test_compose.py names."""
    place, said, sun, soil, wetness, style = case
    plan = design_bed(place, said, sun=sun, soil=soil, wetness=wetness, style=style)
    rules, plants, size = STYLES[style], plan.plants, plan.facts.size
    table = plan.knowledge.plants.loc[plants["plant"]]
    ground = plants["count"].to_numpy() * np.sqrt(0.75) * plants["spacing_m"].to_numpy() ** 2
    beds = float(plan.planting.beds.area.sum())
    assert len(plants) >= rules.kinds_in(size.area_m2)
    assert 0.6 * size.area_m2 <= beds <= size.area_m2 + 1e-6
    assert ground.sum() <= rules.cover * size.area_m2 + 1e-6
    assert ground.sum() >= 0.6 * beds  # two thirds of each bed chosen, less what the drawing could not hold
    herbs = ~table["form"].isin(["shrub", "vine", "tree"]).to_numpy()
    assert (plants["count"][herbs] >= 3).all()
    assert not table["form"].isin(["vine", "tree"]).any()
    if size.area_m2 >= rules.share_from_m2:
        assert ground[herbs].max() <= 0.6 * size.area_m2
    widest = min(size.width_m, 3.0)
    assert (plants["height_m"][herbs] <= max(rules.height_to_width * widest, rules.any_width_m) + 1e-6).all()
    if size.area_m2 >= 6.0:
        bloom = [_months(row) for row in table.to_dict("records")]
        seasons = [sum(bool(months & bits) for months in bloom) for bits in SEASON_BITS]
        assert sum(count >= 1 for count in seasons) >= 2


def _months(row):
    if not row["nectar_value"] > 0:
        return 0
    return sum(1 << m for m in range(int(row["bloom_start_month"]), int(row["bloom_end_month"]) + 1))


@pytest.mark.parametrize("said", ["4x2m", "8x5m", "a pot", "balcony box 1m x 25cm"])
def test_plants_stand_in_the_bed_and_off_each_other(said):
    plan = design_bed("Ohio", said)
    points = plan.planting.plant_points
    assert plan.facts.size.outline.buffer(1e-6).covers(shapely.union_all(points.geometry.to_numpy()))
    assert len(points) == plan.plants["count"].sum() > 0
    spacing = plan.plants.set_index("plant")["spacing_m"]
    for plant, same in points.groupby("plant"):
        xy = shapely.get_coordinates(same.geometry.to_numpy())
        away = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + 1e9 * np.eye(len(xy))
        assert away.min() >= spacing[plant] - 1e-3


def test_a_wide_bed_gets_walks_so_that_every_plant_can_be_reached():
    """Beds 1.5 to 3 m wide with access from both sides: common practice."""
    plan = design_bed("Ohio", "9x8m")
    beds = plan.planting.beds.geometry
    assert len(beds) == 3
    for bed in beds:
        assert min(bed.bounds[2] - bed.bounds[0], bed.bounds[3] - bed.bounds[1]) <= 3.0 + 1e-6
    assert all(a.distance(b) >= 0.5 - 1e-6 for k, a in enumerate(beds) for b in beds[k + 1 :])


@pytest.mark.parametrize("who", ["children", "pets"])
@pytest.mark.parametrize("place", ["Ohio", "Texas"])
def test_nothing_that_harms_them_where_children_or_pets_are(place, who):
    plan = design_bed(place, "6x2m", wishes="monarch, black swallowtail", **{who: True})
    flags = {"children": False, "pets": False, who: True}
    actions = {hazard_action(plan.knowledge, plant, **flags) for plant in plan.plants["plant"]}
    assert actions <= {"none", "tell", "gloves"}
    assert len(plan.plants) >= 2


def test_unknown_soil_stays_not_assessed_and_is_told():
    unknown, known = design_bed("Ohio", "4x2m"), design_bed("Ohio", "4x2m", soil="clay")
    assert "soil texture" in unknown.not_assessed
    assert "texture" not in unknown.needs.assessed
    assert "soil texture" not in known.not_assessed
    assert known.facts.told["soil"] == "clay"


def test_wet_and_dry_ground_get_other_plants():
    wet, dry = (design_bed("Ohio", "6x2m", soil="loam", wetness=word) for word in ("wet", "dry"))
    table = wet.knowledge.plants
    assert (table.loc[wet.plants["plant"], "drainage_min"] <= 3).all()
    assert (table.loc[dry.plants["plant"], "drainage_max"] >= 6).all()


def test_equal_answers_give_equal_beds_and_other_seeds_other_ones():
    one, two = (design_bed("Ohio", "4x2m", soil="loam") for _ in range(2))
    assert one.plants.equals(two.plants)
    assert one.planting.plant_points.equals(two.planting.plant_points)
    kinds = {tuple(design_bed("Ohio", "4x2m", soil="loam", seed=s).plants["plant"]) for s in range(4)}
    assert len(kinds) > 1


def test_a_pot_feeds_adults_only_and_stays_small():
    plan = design_bed("Ohio", "a pot", wishes="monarch")
    assert plan.butterflies["verdict"].tolist() == ["will visit"]
    assert plan.butterflies["broods"].tolist() == [0]
    assert (plan.plants["height_m"] <= 0.6).all()


@pytest.mark.parametrize("place", ["Maryland", "Texas"])
def test_a_box_holds_three_plants_or_more(place):
    """Boxes of 1 m are sold for three to five plants: common practice."""
    assert design_bed(place, "a balcony box", sun="part").plants["count"].sum() >= 3


def test_broods_follow_from_the_plants_that_a_brood_needs():
    """Plants for a brood by the table of broods, after which the hosts grow back (``knowledge.broods``)."""
    plan = design_bed("Ohio", "6x2m", wishes="monarch")
    row = plan.butterflies.iloc[0]
    assert (row["verdict"], row["common_name"]) == ("can breed", "monarch")
    milkweeds = plan.plants[plan.plants["plant"].str.startswith("Asclepias")]
    assert milkweeds["count"].sum() >= 10  # ten milkweeds a brood: the practice table
    assert row["broods"] >= 1


@pytest.mark.parametrize(
    ("place", "size", "wetness"),
    [
        ("Pennsylvania", "12x6ft", "wet"),
        ("Pennsylvania", "12x6ft", "medium"),
        ("Texas", "12x6ft", "medium"),
        ("Texas", "4x2m", "dry"),
    ],
)
def test_who_wishes_for_monarchs_gets_milkweed_that_feeds_them(place, size, wetness):
    """Monarch caterpillars eat milkweeds (Asclepias) alone; both regions have some for clay, wet and dry."""
    plan = design_bed(place, size, soil="clay", wetness=wetness, wishes="monarch")
    assert _milkweeds(plan) >= 5


def _milkweeds(plan):
    return int(plan.plants.loc[plan.plants["plant"].str.startswith("Asclepias "), "count"].sum())


def test_hosts_are_planted_in_part_where_a_brood_of_them_finds_no_room():
    """Twenty whorled milkweeds a foot apart, a brood's, take 1.6 m2 of 1.4: some are planted and told."""
    plan = design_bed("Ohio", "1.2x1.2m", soil="loam", wetness="dry", wishes="monarch")
    assert 3 <= _milkweeds(plan) < 20
    assert "host plants for only" in plan.butterflies["missing"].iloc[0]
    assert plan.butterflies["verdict"].tolist() == ["will visit"]


def test_names_that_are_no_butterflies_are_refused_with_the_nearest():
    with pytest.raises(NotFoundError, match="monarch"):
        design_bed("Ohio", "4x2m", wishes="monarc, swallow tail of the moon")
    with pytest.raises(ParameterError, match="tidy"):
        design_bed("Ohio", "4x2m", style="wild")


def test_wishes_are_read_from_one_text_or_several():
    tables = load_knowledge(KnowledgeSettings())
    named = ("Danaus plexippus", "Papilio polyxenes")
    for said in ("monarch, black swallowtail", "monarch and black swallowtail", list(named)):
        assert read_wishes(said, tables)[0] == named
    assert set(read_wishes("as many as possible", tables)[0]) == set(tables.butterflies.index)
    assert set(read_wishes("", tables)[0]) <= set(tables.region.widespread)


def test_the_region_follows_the_place():
    assert design_bed("Texas", "4x2m").knowledge.region.id == find_place("Texas").region == "south-central"
    assert MARGIN_M > 0
    assert SEED == 7


SHIFT_M = 1000.0
"""Coordinates near 0 are taken for degrees where a file's CRS has no code."""


def _as_study(folder, plan):
    """Write the facts of a bed as a study: its yard, lawn around it, no building, rasters of one value."""
    bed = translate(plan.facts.size.outline, SHIFT_M, SHIFT_M)
    yard, crs = bed.buffer(MARGIN_M, join_style="mitre", quad_segs=2), bed_crs(plan.facts.place)
    layers = {"yards": [yard], "lawn": [yard.difference(bed)], "buildings": []}
    for name, shapes in layers.items():
        frame = gpd.GeoDataFrame({"yard_id": ["bed"] * len(shapes)}, geometry=shapes, crs=crs)
        frame.to_file(folder / f"{name}.gpkg", engine="pyogrio", geometry_type="Polygon")
    for name, value in plan.facts.factors.items():
        with rasterio.open(
            folder / f"{name}.tif", "w", driver="GTiff", width=60, height=60, count=1, dtype="float32",
            crs=crs.to_wkt(), transform=from_origin(SHIFT_M - 20.0, SHIFT_M + 30.0, 1.0, 1.0),
        ) as file:  # fmt: skip
            file.write(np.full((1, 60, 60), value, np.float32))
    rasters = "".join(f'[rasters.{name}]\npath = "{name}.tif"\n' for name in plan.facts.factors)
    vectors = "".join(f'[layers.{name}]\npath = "{name}.gpkg"\n' for name in layers)
    first, last = plan.knowledge.region.season_months
    wishes = ", ".join(f'"{name}"' for name in plan.facts.wishes)
    rules = ", ".join(f"{name} = {value}" for name, value in bed_settings(plan.facts)[0].bed_rules.items())
    (folder / "study.toml").write_text(
        f'[study]\ndate = 2026-03-01\nseason = [{first}, {last}]\ncrs = "{crs.srs}"\nseed = {SEED}\n'
        f"{vectors}{rasters}[planting]\nbed_share_max = 1.0\nbudget = {OPEN_PURSE}\nwishes = [{wishes}]\n"
        f"bed_rules = {{ {rules} }}\n"
    )
    return habitat.read_study(folder / "study.toml")


@pytest.mark.parametrize(
    ("place", "size", "soil"),
    [("Ohio", "12x6ft", "loam"), ("Texas", "5x2m", "clay"), ("Ohio", "6x5m", "unknown")],
)
def test_a_study_of_the_same_facts_gives_the_same_bed(tmp_path, place, size, soil):
    bed = design_bed(place, size, soil=soil, wishes="monarch, black swallowtail")
    study = habitat.run(_as_study(tmp_path, bed))
    columns = ["plant", "count", "form", "bed_id"]
    assert study.plantings[columns].values.tolist() == bed.planting.plantings[columns].values.tolist()
    mine, theirs = (shapely.get_coordinates(p.plant_points.geometry) for p in (bed.planting, study))
    assert np.abs(mine + SHIFT_M - theirs).max() < 1e-6
