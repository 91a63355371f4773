"""Every factor: a new need is one entry here, at the end, and data. See "A need" in DEVELOPERS.md."""

from __future__ import annotations

from habitat.factors.classes import DRAINAGE, TEXTURES, drainage_rank, texture_number, zone_number
from habitat.factors.types import Factor, Factors, at_least, at_most, between, from_share, groups, steps

TEXTURE_GROUPS = {"coarse": (1, 2), "medium": (3, 7), "fine": (8, 12)}
"""First and last class number of each group, coarse to fine (grouping from memory; see practice tables)."""

SHALLOW_SHARE = 0.5
"""Fit falls to 0 at this share of the least soil depth for good growth: judgement."""

SUN = Factor(
    name="sun_h",
    words="sun",
    unit="h",
    unit_words="h per clear day",
    possible=(0.0, 24.0),
    usual=(0.0, 15.0),
    source="Hours of a day; beyond the polar circles the sun can shine through all of them.",
    # a most of 15 h, the longest day of the middle latitudes, is no upper limit
    wants=between(
        ("sun_min_h", "sun_opt_low_h", "sun_opt_high_h", "sun_max_h"),
        0.0,
        15.0,
        open_low=True,
        open_high=True,
        required=True,
    ),
    group="sun",
    test_column="number",
    aliases=("sun", "sun_hours", "hours_of_sun"),
    too_little="{gap:.1f} h more sun: a sunnier place, or pruning by a licensed arborist.",
    too_much="{gap:.1f} h less sun: the shade of a shrub, fence or taller plant.",
    low_words="shady",
    high_words="sunny",
    low_help="it may lean and bloom less; support it",
    high_help="water the first two summers",
    measure="Count the hours of direct sun on {bed} on a clear day between May and August",
    measure_rank=1,
)

PH = Factor(
    name="ph",
    words="soil pH",
    title="soil reaction (pH)",
    unit="pH",
    possible=(2.0, 11.0),
    usual=(3.0, 10.0),
    source="From acid sulphate soils to sodic ones: Soil Survey Manual (2017), chapter 3, from memory.",
    wants=between(("ph_min", "ph_opt_low", "ph_opt_high", "ph_max"), 2.0, 11.0, required=True),
    test_column="number",
    aliases=("soil_ph", "ph_water", "ph_h2o"),
    shown="pH {value:.1f}",
    range_shown="{range}",
    too_little="lime raises pH slowly; {gap:.1f} units would be needed, after a soil test.",
    too_much="sulphur lowers pH slowly; {gap:.1f} units would be needed, after a soil test.",
    low_words="acid",
    high_words="limy",
    low_help="test the soil before you lime",
    high_help="mulch with leaves, never lime",
    most_gap=1.0,
    beyond=" That is more than can be kept up: choose another plant.",
    measure="Send a soil sample from {bed} to a laboratory, or use a test kit, for its reaction (pH)",
    measure_rank=3,
)

DRAINED = Factor(
    name="drainage",
    words="drainage",
    title="soil drainage",
    unit="rank",
    possible=(1.0, 7.0),
    source="The seven natural drainage classes; open water has none.",
    wants=between(
        ("drainage_min", "drainage_opt_low", "drainage_opt_high", "drainage_max"),
        1.0,
        7.0,
        step=1.0,
        required=True,
    ),
    classes=DRAINAGE,
    read_class=drainage_rank,
    in_steps=True,
    test_column="text",
    aliases=("drainage_class", "drain"),
    range_shown="{range}",
    too_little="A raised bed or a higher place drains better.",
    too_much="A lower place, mulch and compost hold water longer; watering in dry weeks.",
    low_words="wet",
    high_words="dry",
    low_help="set it a little high",
    high_help="mulch, and water in dry weeks",
    measure=(
        "Dig a hole 30 cm (1 ft) deep in {bed}, after buried lines are marked; fill it with water twice "
        "and time how fast the second filling sinks"
    ),
    measure_rank=2,
)

TEXTURE = Factor(
    name="texture",
    words="soil texture",
    unit="class",
    possible=(1.0, 12.0),
    source="The twelve USDA texture classes.",
    wants=groups("texture_ok", TEXTURE_GROUPS),
    classes=TEXTURES,
    read_class=texture_number,
    in_steps=True,
    test_column="text",
    aliases=("soil_texture", "texture_class"),
    at_a_tie="higher",
    mistaken_for="any",
    range_shown="{range}",
    too_little="Soil texture cannot be changed; a raised bed with other soil holds a few plants.",
    too_much="Soil texture cannot be changed; a raised bed with other soil holds a few plants.",
    low_words="sandy",
    high_words="heavy with clay",
    low_help="compost and mulch help it through dry weeks",
    high_help="never walk on it when it is wet",
    measure="Have a sample's texture named (sand, loam or clay), or rub moist soil between the fingers",
    measure_rank=4,
)

DEPTH = Factor(
    name="depth_cm",
    words="soil depth",
    title="depth of soil",
    unit="cm",
    possible=(0.0, 2000.0),
    usual=(0.0, 300.0),
    source="Maps of the depth to rock go to many metres; beyond 20 m is taken for another unit: judgement.",
    wants=from_share("rooting_depth_min_cm", SHALLOW_SHARE, 0.01, 300.0),
    test_column="length",
    aliases=("depth", "soil_depth_cm"),
    too_little="A raised bed of {gap:.0f} cm, for a few plants.",
    low_words="shallow",
    low_help="mulch, and water in dry weeks",
    measure="Push a rod into {bed} in five places after rain and note how deep it goes",
    measure_rank=5,
)

WATER = Factor(
    name="available_water_mm",
    words="water in the soil",
    title="water that the soil holds",
    unit="mm",
    possible=(0.0, 400.0),
    source="A silt loam holds about 20 % of its volume, so that 2 m of it hold 400 mm: common practice.",
    wants=at_least(("available_water_min_mm", "available_water_opt_mm"), 0.0, 400.0),
    given=False,
    too_little="Compost and mulch hold more water; watering while it establishes.",
    low_words="dry",
    low_help="mulch, and water in dry weeks",
)

ZONE = Factor(
    name="zone",
    words="winter cold",
    unit="zone",
    possible=(1.0, 13.5),
    usual=(1.0, 13.0),
    source="Hardiness zones run from 1a (1.0) to 13b (13.5).",
    wants=steps(("zone_min", "zone_max"), 1.0, 13.5),
    in_steps=True,
    read_class=zone_number,
    shown="zone {value:.0f}",
    range_shown="zone {range}",
    low_words="cold in winter",
    high_words="warm",
    too_little="Winter cold and summer heat cannot be changed: choose another plant.",
    too_much="Winter cold and summer heat cannot be changed: choose another plant.",
)

SALT = Factor(
    name="salt",
    words="road salt",
    unit="dS/m",
    possible=(0.0, 60.0),
    usual=(0.0, 30.0),
    source="Of the saturated paste. Sea water has about 53 dS/m at 25 degrees (practical salinity scale, "
    "from memory); more, in a garden, is another unit: 1 dS/m is 100 mS/m or 1000 uS/cm.",
    wants=at_most(("salt_full_ds_m", "salt_max_ds_m"), 0.0, 60.0),
    test_column="number",
    aliases=("salinity", "ec"),
    too_much="Keep road salt away, or plant farther from the road.",
    high_words="salty",
    high_help="keep road salt away",
)

AFTERNOON = Factor(
    name="sun_afternoon_h",
    words="afternoon sun",
    unit="h",
    unit_words="h after noon",
    possible=(0.0, 12.0),
    usual=(0.0, 8.0),
    source="Half the hours of a day.",
    wants=at_most(("sun_afternoon_full_h", "sun_afternoon_max_h"), 0.0, 8.0),
    group="sun",
    given=False,
    too_much="Shade after noon: the east side of a wall, shrub or tree.",
    high_words="hot after noon",
    high_help="water the first two summers",
)

FACTORS = Factors((SUN, PH, DRAINED, TEXTURE, DEPTH, WATER, ZONE, SALT, AFTERNOON))
"""All of them, in the order that breaks ties of the limiting need; codes of needs are places in it."""
