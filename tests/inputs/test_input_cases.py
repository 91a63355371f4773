"""Every awkward input comes out as its index says: the outcome to aim for or the other that is fine."""

import pytest

from habitat.commands.check.account import check_study
from tests.inputs.cases import CASES, write_study

TRIALS = [(c, None, [c["expect"], *([c["also_ok"]] if "also_ok" in c else [])]) for c in CASES]
TRIALS += [(c, s["says"], [s["expect"]]) for c in CASES for s in c.get("if_user_says", [])]


def told(result):
    parts = [*result["layers"].values(), *result["rasters"].values(), result]
    return "\n".join(n["what"] for p in parts for n in p["notes"]).lower()


def missing_words(wanted, text):
    return [w for w in wanted if not any(p.strip().lower() in text for p in w.split("|"))]


def near(found, wanted, tol):
    return found is None if wanted is None else found is not None and abs(found - wanted) <= tol


def faults(result, expect):
    """Return every way in which a result differs from an expectation."""
    if not expect["accept"]:
        if result["error"] is None:
            return ["it was accepted"]
        return [
            f"error lacks {w}"
            for w in missing_words(expect["error_mentions"], result["error"]["message"].lower())
        ]
    if result["error"] is not None:
        return [f"refused: {result['error']['message']}"]
    out = [f"notes lack {w}" for w in missing_words(expect.get("note_mentions", []), told(result))]
    for check in (counts, areas, plants, tables, rasters):
        out += check(result, expect)
    return out


def counts(result, expect):
    yards = result["layers"]["yards"]
    out = []
    for layer in result["layers"].values():
        if layer["used"] + layer["repaired"] + layer["set_aside"] != layer["rows_in"]:
            out.append("rows in are not all accounted for")
    if "yards" in expect and len(result["yards"]) != expect["yards"]:
        out.append(f"{len(result['yards'])} yards")
    if "rows_in" in expect and yards["rows_in"] != expect["rows_in"]:
        out.append(f"{yards['rows_in']} rows in")
    if "geometry_types" in expect and not set(yards["geometry_types"]) <= set(expect["geometry_types"]):
        out.append(f"kinds {yards['geometry_types']}")
    return out


def areas(result, expect):
    found = {y["yard_id"]: y["area_m2"] for y in result["yards"]}
    tol = expect.get("area_rel_tol", 1e-3)
    out = [
        f"area of {i} {found.get(i)}"
        for i, a in expect.get("area_m2", {}).items()
        if not near(found.get(i), a, a * tol)
    ]
    if "ground_area_m2" in expect and not near(
        result["ground_area_m2"], expect["ground_area_m2"], expect["ground_area_m2"] * tol
    ):
        out.append(f"ground {result['ground_area_m2']}")
    if "overlap_m2" in expect:
        each = sum(y["overlap_m2"] for y in result["yards"]) / 2
        if not near(each, expect["overlap_m2"], expect["overlap_abs_tol"]) or not near(
            result["overlap_m2"], each, 1e-6
        ):
            out.append(f"overlap {each} {result['overlap_m2']}")
    rows = {r["yard_id"]: r["attributes"] for r in result["layers"]["yards"]["rows"]}
    out += [f"label of {i}" for i, label in expect.get("labels", {}).items() if rows[i]["label"] != label]
    out += [
        f"{i} {k}" for i, d in expect.get("attributes", {}).items() for k, v in d.items() if rows[i][k] != v
    ]
    out += [
        f"{i} {k}"
        for i, d in expect.get("attribute_starts_with", {}).items()
        for k, v in d.items()
        if not rows[i][k].startswith(v)
    ]
    if "ids" in expect and sorted(rows) != sorted(expect["ids"]):
        out.append(f"ids {sorted(rows)}")
    return out


def plants(result, expect):
    found, out = result["plants"], []
    if "plants" in expect and len(found) != expect["plants"]:
        out.append(f"{len(found)} plants")
    if "count_total" in expect and sum(p["count"] for p in found) != expect["count_total"]:
        out.append("count")
    if "plants_outside" in expect and sum(p["yard_id"] is None for p in found) != expect["plants_outside"]:
        out.append("plants outside")
    if expect.get("each_plant_counted_once") and len({p["row"] for p in found}) != len(found):
        out.append("a plant twice")
    if "plants" in result["layers"]:
        rows = {r["attributes"].get("plant_id"): r for r in result["layers"]["plants"]["rows"]}
        for name, (lon, lat) in expect.get("lon_lat", {}).items():
            if not (
                near(rows[name]["lon"], lon, expect["lon_lat_abs_tol"])
                and near(rows[name]["lat"], lat, expect["lon_lat_abs_tol"])
            ):
                out.append(f"place of {name}")
        for key in ("height_m", "planted"):
            out += [
                f"{key} of {n}" for n, v in expect.get(key, {}).items() if rows[n]["attributes"][key] != v
            ]
    return out


def tables(result, expect):
    out = []
    if "rows_matched" in expect and result["tables"]["soil_tests"]["matched"] != expect["rows_matched"]:
        out.append("matched")
    if "rows_unmatched" in expect and result["tables"]["soil_tests"]["unmatched"] != expect["rows_unmatched"]:
        out.append("unmatched")
    if "ph" in expect:
        found = {r["yard_id"]: r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]}
        if found != expect["ph"]:
            out.append(f"ph {found}")
    return out


def rasters(result, expect):
    out = []
    for raster in result["rasters"].values():
        rows = {y["yard_id"]: y for y in raster["yards"]}
        for i, mean in expect.get("mean", {}).items():
            if not near(rows[i]["mean"], mean, expect["mean_abs_tol"]):
                out.append(f"mean of {i} {rows[i]['mean']}")
        for key in ("valid_share", "covered_share"):
            for i, share in expect.get(key, {}).items():
                if not near(rows[i]["known_share"], share, 0.02):
                    out.append(f"{key} of {i} {rows[i]['known_share']}")
        for i, shares in expect.get("class_share", {}).items():
            if not set(rows[i]["shares"]) <= {str(c) for c in expect["classes"]}:
                out.append(f"classes of {i}")
            out += [
                f"share of {i} {c}"
                for c, s in shares.items()
                if not near(rows[i]["shares"].get(c), s, expect["share_abs_tol"])
            ]
    return out


@pytest.mark.parametrize(
    ("case", "says", "fine"), TRIALS, ids=[c["case"] + ("-told" if s else "") for c, s, _ in TRIALS]
)
def test_case_comes_out_as_its_index_says(case, says, fine, tmp_path):
    result = check_study(write_study(case, tmp_path, says))
    found = [faults(result, expect) for expect in fine]
    assert [] in found, f"{found}\n{result['error']}\n{told(result)}"
    assert result["exit"] in (0, 1, 2)
    assert (result["error"] is not None) == (result["exit"] == 2)


def test_huge_raster_is_read_by_window_only(tmp_path):
    import tracemalloc

    case = next(c for c in CASES if c["case"] == "huge_but_nearly_empty")
    tracemalloc.start()
    result = check_study(write_study(case, tmp_path))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert result["error"] is None
    assert peak < 200e6
