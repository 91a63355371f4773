"""Which columns each layer may have, what they are called elsewhere, and what values make sense."""

from __future__ import annotations

from dataclasses import dataclass, replace

from habitat.factors import FACTORS
from habitat.terms import WISH_FLAGS


@dataclass(frozen=True, slots=True)
class Column:
    """A column that habitat looks for.

    ``kind`` is id, text, number, money, length (metres), flag (blank is no), date, or answer (text in which
    words such as none say something). ``low`` and ``high``
    bound what a number may be; beyond them it is unknown, and told. ``other`` is what an unclear flag means.
    """

    name: str
    kind: str = "text"
    aliases: tuple[str, ...] = ()
    low: float = float("-inf")
    high: float = float("inf")
    other: bool = True


YARD_ID = Column(
    "yard_id",
    "id",
    (
        "yard",
        "parcel_id",
        "parcelid",
        "parcel_no",
        "parcel_number",
        "parcel",
        "pin",
        "apn",
        "lot_id",
        "parcel_pin",
        "parcel_num",
        "parid",
        "tax_id",
        "tax_parcel_id",
        "folio",
        "folio_number",
    ),
)
ADDRESS = Column(
    "address",
    "text",
    (
        "addr",
        "site_address",
        "situs",
        "situs_address",
        "street_address",
        "site_addr",
        "situs_addr",
        "property_address",
        "prop_addr",
        "full_address",
        "full_addr",
        "home_address",
        "house_address",
    ),
)
HEIGHT = Column("height_m", "length", ("height", "hgt", "height_meters"), 0, 150)
CROWN = Column(
    "crown_m", "length", ("crown", "spread_m", "spread", "crown_diameter", "crown_width", "canopy_m"), 0, 60
)
PLANT = Column(
    "plant",
    "text",
    ("species", "scientific_name", "scientificname", "latin_name", "taxon", "plant_name", "common_name"),
)
COUNT = Column("count", "number", ("number", "quantity", "qty", "how_many", "n"), 0, 100_000)
PARTS = (
    Column("sand_pct", "number", ("sand", "sand_percent"), 0, 100),
    Column("silt_pct", "number", ("silt", "silt_percent"), 0, 100),
    Column("clay_pct", "number", ("clay", "clay_percent"), 0, 100),
)
PEOPLE = (
    Column("role", "text", ("status", "taking_part", "takes_part", "take_part", "participating")),
    Column(
        "publish", "flag", ("may_be_shown", "show", "ok_to_show", "ok_to_publish", "show_on_map"), other=False
    ),
    Column("budget", "money", ("money",), 0),
    Column("children", "flag", ("kids",)),
    Column("pets", "flag", ("pet", "dogs", "cats", "dogs_or_cats", "cats_or_dogs", "animals")),
    Column("poisonous", "text", ("poisonous_plants", "poison", "toxic_plants", "toxic")),
    Column("sprayed", "flag", ("spray", "sprays", "pesticide", "pesticides")),
    Column("deer", "flag"),
    Column("septic", "flag"),
    Column("max_height_m", "length", ("max_height", "height_limit_m", "height_limit"), 0, 150),
    Column("garden_wishes", "text", ("wishes", "vetoes", "wants", "garden_wish", "what_we_want")),
    *(Column(name, "flag") for name in WISH_FLAGS),
    Column("look", "text", ("garden_look", "style")),
    Column("disliked_colours", "text", ("disliked_colors", "colours_disliked", "colors_disliked")),
    Column("hours_a_month", "number", ("hours_per_month", "hours", "care_hours"), 0, 300),
    Column("bed_m2", "number", ("bed_area_m2",), 0, 100_000),
)
CONTACT = (
    Column("name", "text", ("full_name", "your_name", "contact_name", "household", "household_name")),
    Column("email", "text", ("e_mail", "mail", "email_address", "e_mail_address")),
)
"""What letters are addressed by; it goes into contacts.csv and nowhere else."""
GROUP = Column("group", "text", ("street_group", "planting_group"))
DATE = Column("date", "date", ("day", "observed_on", "eventdate"))
PLANTED = Column("planted", "date", ("date_planted", "planting_date"))

COLUMNS: dict[str, tuple[Column, ...]] = {
    "yards": (YARD_ID, ADDRESS, *PEOPLE),
    "participants": (YARD_ID, ADDRESS, *PEOPLE, *CONTACT, GROUP),
    "plants": (replace(PLANT, aliases=(*PLANT.aliases, "name")), COUNT, YARD_ID, ADDRESS, HEIGHT, CROWN,
    PLANTED),
    "buildings": (HEIGHT, Column("storeys", "number", ("stories", "floors", "levels", "building_levels"),
    0, 60)),
    "trees": (HEIGHT, CROWN, Column("evergreen", "flag", ("leaf_type",), other=False), PLANT,
              Column("trunk_m", "length", ("trunk", "trunk_diameter_m"), 0, 6),
              Column("leaf_start_month", "number", ("leaf_on_month",), 1, 12),
              Column("leaf_end_month", "number", ("leaf_off_month",), 1, 12)),
    "soil_units": PARTS,
    "soil_tests": (YARD_ID, ADDRESS, *PARTS, DATE),
    "anchors": (Column("name", "text", ("anchor", "site")), Column("host_share", "number", (), 0, 1),
                Column("likely_butterflies", "text"),
                Column("butterflies", "text", ("breeding_butterflies",))),
    "growers": (PLANT, Column("form", "text"), Column("price", "money", ("cost",), 0), Column("quantity",
    "number", ("qty",), 0),
                Column("months", "text")),
    "sightings": (Column("butterfly", "text", ("species", "scientific_name", "common_name")), DATE,
    Column("stage", "text"),
                  COUNT, Column("minutes", "number", ("duration",), 0), YARD_ID),
    "keep": (YARD_ID, PLANT, COUNT, CROWN),
    "matches": (Column("yard_id_given", "id"), ADDRESS, YARD_ID, Column("answer", "answer"),
                Column("note", "answer")),
    "season": tuple(Column(name, "answer") for name in (
        "run", "planting_id", "planted", "planted_on", "alive_june", "alive_next_spring", "eaten",
        "replaced_by",
    )),
    "walk": (YARD_ID, ADDRESS, *(Column(name, "answer") for name in (
        "trees", "drive", "walks", "wires", "fences", "water", "septic", "wet", "play",
        "sun_front", "sun_back",
    ))),
    "parcel_changes": (*(Column(name, "answer") for name in ("change", "yard_ids", "new_ids", "by")),
    *(Column(f"{name}_{k}", "number", (), -most, most) for k in (1, 2)
      for name, most in (("lon", 360), ("lat", 90)))),
    "streets": (Column("name", "text"), Column("width_m", "length", ("width",), 0, 200)),
    "wires": (Column("height_m", "length", ("height",), 0, 150),),
    "fences": (HEIGHT,),
    "water": (Column("width_m", "length", ("width",), 0, 2000),),
    "landcover": (Column("cover", "text", ("class", "landcover", "land_cover", "type")),),
}  # fmt: skip

REQUIRED: dict[str, tuple[tuple[str, ...], ...]] = {
    "plants": (("plant",),),
    "participants": (("yard_id", "address", "geometry"),),
    "walk": (("yard_id", "address"),),
    "growers": (("plant",),),
    "sightings": (("butterfly",),),
    "season": (("planting_id",),),
    "matches": (("yard_id",), ("answer",), ("address", "yard_id_given")),
    "parcel_changes": (("change",), ("yard_ids",)),
}
"""Each group: at least one of these columns must be there."""

SOIL = ("soil_units", "soil_tests")
"""Layers that have a column for every factor that a soil test tells, beside their own."""


def columns_of(layer: str) -> tuple[Column, ...]:
    """Return the columns that habitat looks for in a layer."""
    return (*COLUMNS.get(layer, ()), *(_factor_columns() if layer in SOIL else ()))


def required_of(layer: str) -> tuple[tuple[str, ...], ...]:
    """Return groups of columns: at least one of each group must be there."""
    if layer != "soil_tests":
        return REQUIRED.get(layer, ())
    return (tuple(c.name for c in (*_factor_columns(), *PARTS)),)


def _factor_columns() -> tuple[Column, ...]:
    told = [f for f in FACTORS.values() if f.test_column]
    return tuple(Column(f.name, f.test_column, f.aliases, *(() if f.classes else f.possible)) for f in told)


SHAPES: dict[str, str] = {
    "yards": "polygon", "buildings": "polygon", "paving": "polygon", "septic": "polygon",
    "landcover": "polygon",
    "anchors": "polygon", "soil_units": "polygon", "plants": "point", "trees": "point", "soil_tests": "point",
    "downspouts": "point",
    "sightings": "point", "participants": "point", "water": "any", "wires": "any", "buried": "any",
    "fences": "any", "lawn": "polygon",
    "streets": "any", "keep": "any", "growers": "none", "season": "none",
    "matches": "none",
    "more_yards": "none", "parcel_changes": "none", "walk": "point",
}  # fmt: skip
"""The kind of shape each layer needs; one of another kind is mended where that is plain, else set aside."""

HAND_FILLED = ("participants", "walk", "plants", "soil_tests", "growers", "sightings")
"""Layers that people fill in, where a column that is not read may be an answer that is lost."""

UNIT_SUFFIXES = {
    "m": 1.0,
    "ft": 0.3048,
    "feet": 0.3048,
    "foot": 0.3048,
    "in": 0.0254,
    "inches": 0.0254,
    "cm": 0.01,
    "mm": 0.001,
}


def plain_name(name: str) -> str:
    """Return a column name as it is compared: lower case, words joined by one underscore.

    Examples
    --------
    >>> plain_name(" Parcel-ID "), plain_name("building:levels")
    ('parcel_id', 'building_levels')
    """
    return "_".join(part for part in "".join(c if c.isalnum() else " " for c in name.casefold()).split())
