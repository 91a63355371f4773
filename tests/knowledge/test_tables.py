"""The shipped tables hold together; own ones lie over them; every fault is told at once."""

import csv
import re

import pytest
from openpyxl import Workbook

from habitat.errors import KnowledgeError, MissingFileError, StudyError
from habitat.knowledge import HostStand, close_life_cycle, load_knowledge
from habitat.knowledge.care import cautions
from habitat.knowledge.schema import CAUTION_RULES, FILES
from habitat.knowledge.sources import value_source
from habitat.knowledge.year import bloom_months, flight_months
from habitat.settings.knowledge import KnowledgeSettings


def load(folder, region="ohio-valley-mid-atlantic", **tables):
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    settings = KnowledgeSettings(region=region, **{name: f"{name}.csv" for name in tables})
    return load_knowledge(settings, folder)


def rows_of(path):
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def faults(folder, **tables):
    with pytest.raises(KnowledgeError) as error:
        load(folder, **tables)
    return error.value.faults


def test_every_butterfly_has_a_primary_host_and_every_host_an_eater(shipped):
    primary = shipped.host_plants[shipped.host_plants["use"] == "primary"]
    assert set(primary["butterfly"]) == set(shipped.butterflies.index)
    hosts = set(shipped.plants.index[shipped.plants["is_host"]])
    assert hosts <= set(shipped.host_plants["plant"])


def test_every_plant_is_of_use(shipped):
    plants = shipped.plants
    doubtful = plants.index.isin(shipped.doubtful_hosts["plant"])
    assert (plants["is_host"] | (plants["nectar_value"] > 0) | doubtful).all()
    assert (plants["seed_collect_end_month"] >= plants["bloom_start_month"]).all()


def test_published_rows_name_a_source_and_memory_rows_say_so(shipped):
    for frame in (shipped.plants, shipped.butterflies, shipped.hosts, shipped.lookalikes, shipped.stages):
        memory_only = frame["source"].str.fullmatch("memory")
        assert not (memory_only & (frame["source_kind"] == "published")).any()
        assert frame["source"].ne("").all()


def test_checked_fields_are_columns_or_known_words(shipped):
    known = {"bloom_season", "drainage_fits_wetland_rating", "movement_evidence", ""}
    for frame in (shipped.plants, shipped.butterflies):
        named = {f.strip() for cell in frame["checked_fields"] for f in cell.split(";")}
        assert named <= known | set(frame.columns)


def test_new_rows_from_memory_claim_nothing_published(shipped):
    rows = shipped.plants[shipped.plants["source"] == "memory"]
    assert len(rows) >= 20
    assert (rows["checked_fields"] == "").all()


def test_legumes_in_general_do_not_let_in_woody_ones(shipped):
    for butterfly in ("Strymon melinus", "Cupido comyntas"):
        hosts = shipped.plants.loc[shipped.hosts_of(butterfly)["plant"]]
        assert set(hosts["family"]) == {"Fabaceae"}
        assert (hosts["life_span"] != "woody").all()


def test_a_cell_laid_over_keeps_the_rest_of_the_row(tmp_path, shipped):
    own = load(tmp_path, plants="scientific_name,ph_max,source\nAsclepias incarnata,8.4,our garden\n")
    mine, theirs = own.plants.loc["Asclepias incarnata"], shipped.plants.loc["Asclepias incarnata"]
    assert mine["ph_max"] == 8.4
    assert mine.drop("ph_max").equals(theirs.drop("ph_max"))
    source = own.own_cells[("plants", "Asclepias incarnata", "ph_max")]
    assert "plants.csv" in source
    assert "our garden" in source
    others = own.plants.drop(index="Asclepias incarnata")
    assert others.equals(shipped.plants.drop(index="Asclepias incarnata"))


def test_a_new_row_is_added_with_its_hosts(tmp_path, shipped):
    row = dict(shipped.plants.loc["Viola sororia"].astype(str)) | {
        "scientific_name": "Viola palmata",
        "common_name": "wood violet",
        "is_host": "false",
    }
    text = ",".join(row) + "\n" + ",".join("" if str(v) == "nan" else f'"{v}"' for v in row.values()) + "\n"
    own = load(tmp_path, plants=text)
    assert len(own.plants) == len(shipped.plants) + 1
    assert own.plants.loc["Viola palmata", "is_host"]  # the genus is a host, whatever the cell says
    assert "Argynnis cybele" in set(own.eaters_of("Viola palmata")["butterfly"])


def test_own_hosts_can_take_a_host_away_or_change_its_use(tmp_path, shipped):
    own = load(
        tmp_path,
        hosts="scientific_name,host_taxon,rank,use\nDanaus plexippus,Asclepias syriaca,species,none\n"
        "Danaus plexippus,Asclepias tuberosa,species,secondary\n",
    )
    use = own.hosts_of("Danaus plexippus").set_index("plant")["use"]
    assert "Asclepias syriaca" not in use.index
    assert use["Asclepias tuberosa"] == "secondary"
    assert use["Asclepias incarnata"] == "primary"


def test_months_of_own_tables_may_go_over_the_turn_of_the_year(tmp_path):
    own = load(
        tmp_path,
        plants="scientific_name,bloom_start_month,bloom_end_month\nHamamelis virginiana,11,2\n",
        butterflies="scientific_name,flight_start_month,flight_end_month\nNymphalis antiopa,10,3\n",
    )
    assert bloom_months(own.plants.loc["Hamamelis virginiana"]) == (11, 12, 1, 2)
    assert flight_months(own.butterflies.loc["Nymphalis antiopa"]) == (10, 11, 12, 1, 2, 3)


def test_semicolons_decimal_commas_byte_marks_and_old_code_pages_are_read(tmp_path):
    (tmp_path / "own.csv").write_bytes("\ufeffscientific_name;ph_max\r\nAsclepias incarnata;8,4\r\n".encode())
    found = load_knowledge(KnowledgeSettings(plants="own.csv"), tmp_path)
    assert found.plants.loc["Asclepias incarnata", "ph_max"] == 8.4
    (tmp_path / "own.csv").write_bytes("scientific_name,notes\nAsclepias incarnata,près\n".encode("cp1252"))
    found = load_knowledge(KnowledgeSettings(plants="own.csv"), tmp_path)
    assert found.plants.loc["Asclepias incarnata", "notes"] == "près"


def test_every_fault_is_told_with_file_row_column_and_rule(tmp_path):
    told = faults(
        tmp_path,
        plants="scientific_name,ph_min,ph_opt_low,ph_opt_high,ph_max,form,spread_m\n"
        "Asclepias incarnata,7.0,6.0,6.5,5.0,,\n"
        "Asclepias syriaca,,,,,bush,\n"
        "Asclepias tuberosa,,,,,,0.1\n"
        "Asclepias exaltata,low,,,,,\n",
        butterflies="scientific_name,broods_per_year\nDanaus plexippus,7\nNobody knows,1\n",
        hosts="scientific_name,host_taxon,rank,use\nDanaus plexipus,Asclepias,genus,primary\n"
        "Danaus plexippus,Rosa,genus,primary\n",
    )
    expected = [
        r"plants\.csv, row 2 \(Asclepias incarnata\), ph_min, .*ph_max: must not fall.* 7, 6, 6\.5, 5",
        r"plants\.csv, row 3 \(Asclepias syriaca\), form: 'bush' is not one of",
        r"plants\.csv, row 4 \(Asclepias tuberosa\), spacing_m: 0\.45 m is wider",
        r"plants\.csv, row 5 \(Asclepias exaltata\), ph_min: must be a number, not 'low'",
        r"butterflies\.csv, row 2 \(Danaus plexippus\), broods_per_year: must lie between 1 and 4",
        r"butterflies\.csv, row 3 \(Nobody knows\), common_name, .*: must not be blank",
        r"hosts\.csv, row 2 .*scientific_name: no such butterfly; did you mean 'Danaus plexippus'",
        r"hosts\.csv, row 3 .*host_taxon: no plant",
    ]
    for pattern in expected:
        assert any(re.match(pattern, fault) for fault in told), pattern


@pytest.mark.parametrize(
    ("text", "pattern"),
    [
        ("", "empty"),
        ("name\nx\n", "no such column"),
        ("scientific_name,hight_m\nx,1\n", "did you mean 'height_m'"),
        ("scientific_name,notes,notes\nAsclepias incarnata,a,b\n", "more than once"),
        ("common_name\nx\n", "'scientific_name' is missing"),
        ("scientific_name,notes\nAsclepias incarnata,a\nAsclepias incarnata,b\n", "stands in row 2 already"),
        ("scientific_name,notes\nAsclepias incarnata,a,b,c\n", "has 4 cells"),
        ("scientific_name,notes\n,a\n", "row 2, scientific_name: must not be blank"),
        ("scientific_name,texture_ok\nAsclepias incarnata,coarse;fine\n", "neighbours"),
        ("scientific_name,zone_min,zone_max\nAsclepias incarnata,9,3\n", "must not fall"),
        ("scientific_name,hazards\nAsclepias incarnata,none;thorns\n", "'none' cannot stand beside"),
        ("scientific_name,ph_min\nAsclepias incarnata,inf\n", "must be a number"),
        ("scientific_name,ph_min\nAster laevis,5\n", "older name; write 'Symphyotrichum laeve'"),
    ],
)
def test_faults_of_own_plant_tables(tmp_path, text, pattern):
    assert any(pattern in fault for fault in faults(tmp_path, plants=text))


def test_a_new_row_that_may_be_a_misspelling_says_so(tmp_path):
    with pytest.raises(KnowledgeError, match="must not be blank; did you mean 'Asclepias incarnata'"):
        load(tmp_path, plants="scientific_name,ph_max\nAsclepias incarnta,7\n")


def test_only_sprayed_yards_can_be_kept_free_of_hosts(tmp_path):
    """Planning knows no other reason, so a caution that asks for it would be a promise nobody keeps."""
    rows = "id,when,applies_to,effect,words\nshy_dog,pets,host,no_hosts,Mind the dog\n"
    with pytest.raises(KnowledgeError, match="only sprayed yards are kept free of hosts"):
        load(tmp_path, cautions=rows)


def test_a_caution_that_no_plant_can_have_is_a_fault(tmp_path):
    """Were it let in, nobody would ever be told it."""
    rows = "id,when,applies_to,effect,words\nsap,always,{},tell,Gloves\n"
    (told,) = faults(tmp_path, cautions=rows.format("toxic_if_eten"))
    assert told.startswith("cautions.csv, row 2 (sap), applies_to: 'toxic_if_eten' is no form, hazard")
    assert told.endswith("did you mean 'toxic_if_eaten'?")
    for about in ("Apiaceae", "Asclepias", "Asclepias tuberosa", "shrub", *CAUTION_RULES):
        own = load(tmp_path, cautions=rows.format(about))
        carries = [p for p in own.plants.index if "sap" in {c.id for c in cautions(own, [p])}]
        assert carries, about


def test_a_plant_of_the_tables_can_be_no_look_alike(tmp_path):
    """It would be planted all the same, so a warning of it must not be let in and then passed over."""
    row = "Zizia aurea,Asclepias syriaca,milkweed,sold_as,It runs,avoid\n"
    head = "native_taxon,lookalike_scientific_name,lookalike_common_name,confusion_kind,reason,action\n"
    (told,) = faults(tmp_path, lookalikes=head + row)
    assert re.match(r"lookalikes\.csv, row 2 .*lookalike_scientific_name: is in the plant table", told)
    assert "planting.exclude" in told


def test_quoted_line_breaks_keep_row_numbers_right(tmp_path):
    text = 'scientific_name,notes,ph_min\nAsclepias incarnata,"two\nlines",\nAsclepias syriaca,,xx\n'
    assert any("row 4 (Asclepias syriaca)" in fault for fault in faults(tmp_path, plants=text))


def test_migrants_and_their_winter_place_belong_together(tmp_path):
    text = "scientific_name,overwinter_stage\nPapilio glaucus,migrates\n"
    assert any("belong together" in fault for fault in faults(tmp_path, butterflies=text))


def test_another_region_has_only_its_own_rows(tmp_path, shipped):
    (told,) = [f for f in _region_faults() if f.startswith("plants")]
    assert "no row is for region 'elsewhere'" in told
    assert "ohio-valley-mid-atlantic" in told
    keep = {"plants": ["Asclepias incarnata"], "butterflies": ["Danaus plexippus"]}
    tables = {
        name: getattr(shipped, name).loc[rows].assign(region="elsewhere").to_csv(index=False)
        for name, rows in keep.items()
    }
    tables["hosts"] = "scientific_name,host_taxon,rank,use\nDanaus plexippus,Asclepias,genus,primary\n"
    found = load(tmp_path, region="elsewhere", **tables)
    assert list(found.plants.index) == ["Asclepias incarnata"]
    assert set(found.lookalikes["plant_instead"]) <= {"", "Asclepias incarnata"}  # no plant of another region
    assert found.host_plants[["butterfly", "plant"]].to_numpy().tolist() == [
        ["Danaus plexippus", "Asclepias incarnata"]
    ]


def test_own_rows_that_name_another_region_are_left_out(tmp_path, shipped):
    """One table may serve two groups; neither is to plant what is native only to the other's ground."""
    rows = shipped.plants.loc[["Viola sororia"] * 3].assign(
        scientific_name=["Viola palmata", "Viola adunca", "Viola nuttallii"],
        common_name=["wood violet", "hooked-spur violet", "yellow prairie violet"],
        region=["", "elsewhere", "elsewhere; ohio-valley-mid-atlantic"],
    )
    own = load(tmp_path, plants=rows.to_csv(index=False))
    assert set(own.plants.index) - set(shipped.plants.index) == {"Viola palmata", "Viola nuttallii"}
    assert "Viola adunca" not in set(own.host_plants["plant"])


def _region_faults():
    with pytest.raises(KnowledgeError) as error:
        load_knowledge(KnowledgeSettings(region="elsewhere"))
    return error.value.faults


def test_a_table_that_is_not_there(tmp_path):
    with pytest.raises(MissingFileError, match=r"none\.csv"):
        load_knowledge(KnowledgeSettings(plants="none.csv"), tmp_path)


def test_an_own_practice_value_replaces_the_number_only(tmp_path, shipped):
    own = load(tmp_path, practice="id,value\nmilkweed_min,25\n")
    assert own.practice_value("milkweed_min") == 25
    assert own.practice.loc["milkweed_min", "statement"] == shipped.practice.loc["milkweed_min", "statement"]


def keys_of(text):
    """The source keys in a cell: what stands between semicolons, without remarks in brackets."""
    bare = re.sub(r"\s*\([^)]*\)", "", str(text))
    return [part.strip() for part in bare.split(";") if part.strip()]


def test_no_value_from_memory_passes_as_published(shipped):
    """A value counts as published only if its row's checked_fields, as in the file, name its column."""
    known = set(shipped.sources["key"])
    for table in ("plants", "butterflies"):
        for row in rows_of(shipped.region.folder / FILES[table]):
            for column in set(row) - {"scientific_name", "source", "source_kind", "checked_fields", "notes"}:
                found = value_source(shipped, table, row["scientific_name"], column)
                assert found.kind == ("published" if column in keys_of(row["checked_fields"]) else "memory")
                if found.kind == "published":
                    named = keys_of(found.text.removeprefix("agrees with "))
                    assert named, (row["scientific_name"], column)
                    assert set(named) <= known - {"memory"}, (row["scientific_name"], column)


def test_spreadsheets_are_read_like_text(tmp_path, shipped):
    """Numbers, truth values, blank rows and blanks around words as a spreadsheet holds them."""
    book = Workbook()
    sheet = book.active
    sheet.append(["scientific_name", "ph_max", "aggressive_spread", "bloom_start_month"])
    sheet.append([])
    sheet.append([" Asclepias incarnata ", 8.4, True, 7])
    book.save(tmp_path / "own.xlsx")
    (tmp_path / "own.csv").write_text(
        "scientific_name,ph_max,aggressive_spread,bloom_start_month\nAsclepias incarnata,8.4,true,7\n",
        encoding="utf-8",
    )
    sheets, text = (
        load_knowledge(KnowledgeSettings(plants=f"own.{kind}"), tmp_path) for kind in ("xlsx", "csv")
    )
    assert sheets.plants.equals(text.plants)
    assert sheets.plants.loc["Asclepias incarnata", "ph_max"] == 8.4
    assert shipped.plants.loc["Asclepias incarnata", "ph_max"] != 8.4
    sheet.append(["Asclepias incarnata", 9.0])
    book.save(tmp_path / "own.xlsx")
    with pytest.raises(KnowledgeError, match=r"own.xlsx, row 4.*row 3 already"):
        load_knowledge(KnowledgeSettings(plants="own.xlsx"), tmp_path)
    (tmp_path / "old.xls").write_bytes(b"\xd0\xcf\x11\xe0")
    with pytest.raises(StudyError, match=r"as \.xlsx or as CSV"):
        load_knowledge(KnowledgeSettings(plants="old.xls"), tmp_path)


def test_own_rows_of_another_region_are_told_with_file_row_and_remedy(tmp_path, shipped):
    """They are other rows than ours: ours of that name stay as they are."""
    text = "scientific_name,height_m,region\nAsclepias incarnata,1.3,elsewhere\nAsclepias syriaca,1.3,\n"
    found = load(tmp_path, plants=text)
    (told,) = found.set_aside
    assert told.startswith("plants.csv: 1 row set aside, for region 'elsewhere'")
    assert "row 2 (Asclepias incarnata)" in told
    assert "Leave the cell region blank" in told
    assert found.plants.loc["Asclepias incarnata"].equals(shipped.plants.loc["Asclepias incarnata"])
    assert found.plants.loc["Asclepias syriaca", "height_m"] == 1.3
    assert shipped.set_aside == ()


OLD_FLY = (
    "scientific_name,common_name,family,flight_start_month,flight_end_month,broods_per_year,overwinter_stage,"
    "where_overwinters,adult_food,habitat,typical_movement_low_m,typical_movement_median_m,"
    "typical_movement_high_m,mobility_class\n"
    "Papilio fictus,invented one,Papilionidae,4,9,2,pupa,on_stem,nectar,open,100,200,300,intermediate\n"
)
OLD_HOST = "scientific_name,host_taxon,rank,use\nPapilio fictus,Zizia aurea,species,primary\n"


def test_own_rows_with_the_old_columns_load_work_and_are_told_what_they_count_as(tmp_path, shipped):
    """Two broods from April to September, on leaf that golden Alexanders has till October; by hand."""
    own = load(tmp_path, butterflies=OLD_FLY, hosts=OLD_HOST)
    told = dict(words.split(":", 1) for words in own.set_aside)
    assert "Papilio fictus" in told["butterflies.csv"]
    assert "feeding_windows as worked out from flight, broods and winter stage" in told["butterflies.csv"]
    for column, value in (("lays", "yes"), ("eaten_when", "any"), ("part_eaten", "leaf")):
        assert f"{column} as {value}" in told["hosts.csv"]
    stands = [HostStand(plant="Zizia aurea", count=50)]
    months, places = range(1, 13), ["on_stem"]
    found = close_life_cycle(own, "Papilio fictus", stands, nectar_months=months, winter_places=places)
    assert found.closed, found.missing
    assert found.broods == 2


def test_an_own_row_over_a_shipped_one_keeps_what_it_does_not_fill_and_tells_nothing(tmp_path, shipped):
    rows = "scientific_name,common_name\nDanaus plexippus,the monarch\n"
    own = load(tmp_path, butterflies=rows)
    assert own.set_aside == ()
    assert own.butterflies.at["Danaus plexippus", "common_name"] == "the monarch"
    both = [t.at["Danaus plexippus", "feeding_windows"] for t in (own.butterflies, shipped.butterflies)]
    assert both[0] == both[1] != ""


def test_a_host_row_that_lays_on_a_plant_of_no_table_is_a_fault(tmp_path):
    rows = "scientific_name,host_taxon,rank,use,lays\nDanaus plexippus,Asclepias nulla,species,primary,yes\n"
    (told,) = faults(tmp_path, hosts=rows)
    assert told.startswith("hosts.csv, row 2 (Danaus plexippus / Asclepias nulla), host_taxon: no plant")
