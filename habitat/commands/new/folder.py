"""A new study folder: a commented study file and empty tables to fill in."""

from __future__ import annotations

import json
from pathlib import Path

from habitat.commands.new.templates import region_template
from habitat.errors import OutputError
from habitat.layers.formats.tape import tape_template
from habitat.report.whole import write_whole
from habitat.report.words.text import plain
from habitat.study.reference import settings_reference

STUDY = """\
# A study for habitat. Lines that begin with # are switched off; take the # away to use them.
# Check it with:  habitat check {check}
# Run it with:    habitat run {check} --out first_plan
# Every key, with its unit, default and an example, stands in SETTINGS.txt.

[study]
name = "{name}"
date = {date}            # the date that stands on sheets and in the calendar
# crs = "EPSG:32617"          # a projected CRS in metres; left out, one is chosen from the yards
cell_m = {cell:<20} # 1 m for a neighbourhood, 0.25 m for one yard
# season = [4, 10]            # first and last month with leaves and flowers; left out, those of the region
sun_months = [5, 8]           # the months in which people count sun hours
"""

NEIGHBOURHOOD = """
# --- What there is: only the yards are needed. Put the files beside this one. ------------------------
[layers.yards]                # parcels, usually from the county's or city's land-records office
path = "yards.gpkg"           # GeoPackage, shapefile (or its zip), GeoJSON, GeoParquet, CSV with WKT ...
# layer = "parcels"           # which layer, if the file has several
# columns = {{ yard_id = "PIN", address = "SITUS" }} # our name = the heading in the file
# where = "CITY = 'OUR TOWN'" # only some rows

[layers.participants]         # the sign-up sheet: who takes part (fill in participants.csv)
path = "participants.csv"     # or the spreadsheet (XLSX) that you have
# columns = {{ role = "Taking part?", pets = "Cats or dogs" }}

# [layers.buildings]          # footprints; without them no bed is placed, only counts and sizes given
# path = "buildings.gpkg"     # with a column height_m or storeys; without, 6 m is assumed for their shadows

# [layers.trees]              # points with height_m, crown_m, evergreen (yes/no), leaf_start_month
# path = "trees.csv"

# [layers.plants]             # what already grows: plant, count, and a yard_id, an address or lon and lat
# path = "plants.csv"         # or the waypoints of a phone (GPX), each named after its plant

# [layers.growers]            # what local growers have (fill in growers.csv)
# path = "growers.csv"

# [layers.sightings]          # butterflies that people saw (fill in sightings.csv)
# path = "sightings.csv"

# [layers.soil_tests]         # test kits: yard_id or address, ph, texture, drainage, depth_cm, sun_h
# path = "soil_tests.csv"

# [layers.paving]             # also: water, wires, buried, septic, fences, streets, landcover, downspouts
# path = "paving.gpkg"

# [layers.more_yards]         # yards that the parcel file lacks, or what people drew of theirs: a file or a
# path = "more_yards"         # folder of tape tables ('habitat new --yard') or sketches ('habitat sketch')

# [layers.parcel_changes]     # parcels that are not the yards people have: change (join or split), yard_ids;
# path = "parcel_changes.csv" # a split: lon_1, lat_1, lon_2, lat_2 of a line, or by: the name of a drawn lot

# [layers.walk]               # what households saw on a walk of their yard: lists/walk-form.csv of a run
# path = "walk-form.csv"

# [layers.anchors]            # habitat that is there already: name, host_share, butterflies (names
#                             # with ; between, all or none; left blank it breeds nothing in the sums)
# path = "anchors.gpkg"

# --- Rasters, if there are any ----------------------------------------------------------------------
# [rasters.surface_m]         # heights of ground, roofs and crowns: sun hours are worked out from it
# path = "surface.tif"
# [rasters.ph]                # soil maps; also sand_pct, clay_pct, drainage (rank 1-7), depth_cm
# path = "ph.tif"
# scale = 0.1                 # if pH is stored times ten

"""

YARD = """
# --- One yard measured by tape: fill in tape.csv (see its first lines) --------------------------------
[layers.yards]
path = "tape.csv"

# In the tables below, yard_id is the name that tape.csv gives the yard. Fill one in, then take its # away.
# [layers.participants]       # children, pets, sprayed, budget ...: what the household wants minded
# path = "participants.csv"

# [layers.soil_tests]         # a test kit: ph, texture, drainage, depth_cm, hours of sun that you counted
# path = "soil_tests.csv"

# [layers.plants]             # what already grows and has no place in tape.csv: plant, count
# path = "plants.csv"

# [layers.growers]            # what local growers have: plant, form, price, quantity, months
# path = "growers.csv"
"""

WISHES = """
# --- What is wanted -----------------------------------------------------------------------------------
[planting]
effort = "quick"              # or "proven": slower, to within 1 % of the best
budget = 250                  # money for a yard that names no budget of its own
# currency = "dollars"        # what prices and budgets are in; nothing is ever converted
# wishes = ["monarch", "black swallowtail", "pearl crescent"]
# max_height_m = 1.8
# front_max_height_m = 0.6    # of plants in the front third of a bed, where the lawn or path is
# back_max_height_m = 1.5     # of plants in a bed at all
# avoid_hazards = ["toxic_to_pets"]
# allow_falling_class = true  # keep plants that the plan's own trees will shade by a class, and be told

[connectivity]
invite = 5                    # how many neighbours to suggest asking next
# distance = "by ground"      # not straight, but by what the ground between hinders; it takes longer
# median_m = { "pearl crescent" = 250 }  # half of them move farther, if you know it better than the tables
# kernel = "fat_tailed"       # if a few of them get much farther than most

[report]
audience = "group"            # "public" leaves out names, addresses and yards without leave to be shown
units = "metric"              # or "us"
paper = "letter"              # or "a4"
"""

TABLES = {
    "participants.csv": "yard_id,address,role,publish,budget,children,pets,poisonous,sprayed,deer,"
    "max_height_m,septic,garden_wishes,hours_a_month,bed_m2,name,email\n",
    "plants.csv": "plant,count,yard_id,address,lon,lat,planted\n",
    "soil_tests.csv": "yard_id,address,ph,texture,drainage,depth_cm,sun_h\n",
    "growers.csv": "plant,form,price,quantity,months\n",
    "sightings.csv": "date,place,x,y,butterfly,stage,count,minutes\n",
}

YARD_TABLES = ("participants.csv", "soil_tests.csv", "plants.csv", "growers.csv")

CALLED = """\
In what follows, habitat stands for the program as it was installed, .venv/bin/habitat for instance, or
.venv\\Scripts\\habitat in PowerShell. The commands are for this folder; from another one name it: habitat
check our_street.
"""

STREET_STEPS = """\
1. Yards. Ask the county or city land-records (parcel) office for the parcels of your streets, or draw
   outlines in any map program. Save them here as yards.gpkg and, if the id column has another name, say
   so in study.toml.
2. Sign-up sheet. Fill in participants.csv: a row per household with yard_id or the address as the parcels
   write it; role member (takes part), candidate (might be asked) or other; publish yes only if they
   agreed to be shown. A spreadsheet with other headings will do: name them in study.toml. yes, maybe and
   no are read as member, candidate and other; blank is not answered: candidate. children, pets, sprayed,
   deer and septic are yes or no. garden_wishes takes everyday words: no trees, no vines, no shrubs, keep
   the lawn, low only, easy care; tidy, meadow or in between; no yellow flowers; the butterflies to plan for
   stand in study.toml. hours_a_month of care and bed_m2 bound the beds.
   poisonous is asked once: may plants stand here that are poisonous if eaten, as milkweed is? none, away from
   play (what a blank means where children or pets live), or all. name and email may stay blank: they
   go into the list of contacts and into letters, and nowhere else.
3. Buildings. Footprints come from the same office, a regional map portal or open map data. Without them
   the plan gives counts and sizes but places no bed.
4. habitat check study.toml   tells what was read, repaired and set aside, which headings were not read and
   which plant names are in no table. Mend what it weighs as "look at this", and check again.
5. habitat run study.toml --out first_plan   then open first_plan/page.html and the sheets.
"""

YARD_STEPS = """\
1. tape.csv. Its first lines say how to measure: the yard's corners, the house, and whatever is to stay, from
   one corner of the house. Two tapes, two people and an hour are usually enough.
2. participants.csv, if children or pets live here, the yard is sprayed, money or time is short, or you have
   wishes (garden_wishes: no trees, keep the lawn, tidy ...): one row, with the
   yard's name in tape.csv as yard_id and yes as role. Then take the # away before its lines in study.toml.
3. habitat check study.toml   tells what was read, how well the outline closes, and what could not be used.
   Mend what it weighs as "look at this", and check again.
4. habitat run study.toml --out first_plan   then open first_plan/sheets and first_plan/page.html.
"""

NEXT = """\
What to add next, in the order in which it usually sharpens the answer:
  sun     a surface-height raster, or heights of buildings and trees: shade decides most
  soil    a test kit in each yard: soil_tests.csv wins over maps. ph is a number; texture a class such as
          sandy loam, loam, silt loam or clay; drainage a class from very poorly drained (water stands for
          days) over moderately well drained and well drained to excessively drained, or its rank 1 to 7.
          Test every yard that takes part: where no map covers a yard without a test, its soil is left out of
          the plan's sums and named as not assessed
  plants  what already grows: plants.csv; a host tree that stands there is worth more than new ones
  ground  streets, wires, buried lines, septic fields: they keep plants out of the wrong places
  walk    ten minutes of each household with its page of lists/walk-sheets.pdf: trees, drive, walks, sun
How much that is, in the invented town of the demo: of the plants that are said to do well in a place, 51
of 100 truly do while neither sun nor soil is known; 61 with a household's word for sun (full, part or shade,
as on its walk sheet), 67 with a word for soil beside it or with soil maps alone, 77 with sun worked out from
heights alone. So begin with the walk, which is ten minutes; then heights before test kits, but a test kit
settles its own yard. Unknown stays unknown: the plan says what it could not
assess.
"""

OTHERS = """\
The other files: SETTINGS.txt, every key that study.toml may hold, with unit, default and an example;
growers.csv, what local growers have (plant, form: seed, plug, pot or bare root, price, quantity, months such
as 4-6);{seen} own_tables, only if you want other plants or butterflies than ours, with its own READ_ME.txt.
An empty table does no harm.

Before anybody digs: have buried lines marked by the utility locating service, and follow local codes.
"""


def read_me(*, yard: bool) -> str:
    """Return READ_ME.txt of a new folder."""
    title = (
        "One yard measured by tape, to a first plan"
        if yard
        else "From a parcel file, building footprints and a sign-up sheet to a first plan"
    )
    others = OTHERS.format(seen="" if yard else " sightings.csv, butterflies that people saw;")
    return "\n".join([title, "", CALLED, YARD_STEPS if yard else STREET_STEPS, NEXT, others])


def make_folder(folder: Path, *, yard: bool, date: str, currency: str = "") -> list[Path]:
    """Write a new study folder and return the files in it; ``currency`` as people write it, "" if unsaid.

    Raises
    ------
    OutputError
        If the folder exists and holds anything, or cannot be written; nothing is left of it then.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError(
            "this folder exists and is not empty", str(folder), "Name a new folder; nothing was overwritten"
        )
    about = {"name": "Our yard", "cell": 0.25} if yard else {"name": "Our street", "cell": 1.0}
    text = STUDY.format(check="study.toml", date=date, **about)
    text += (YARD if yard else NEIGHBOURHOOD.format()) + WISHES
    if named := plain(currency, 20):
        text = text.replace('# currency = "dollars"', f"currency = {json.dumps(named, ensure_ascii=False)}")
    texts = {"study.toml": text, "SETTINGS.txt": settings_reference(), "READ_ME.txt": read_me(yard=yard)}
    texts |= {name: TABLES[name] for name in (YARD_TABLES if yard else TABLES)}
    if yard:
        texts["tape.csv"] = tape_template()
    texts |= {f"own_tables/{name}": table for name, table in region_template().items()}
    contents = {name: one.encode() for name, one in texts.items()}
    return sorted(write_whole(folder, contents, "the new study", "Name a folder that can be written"))
