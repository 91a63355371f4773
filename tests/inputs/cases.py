"""The cases of ``index.json`` as study files: which part is which layer, which statement which key."""

import json
from pathlib import Path

HERE = Path(__file__).parent
CASES = json.loads((HERE / "index.json").read_text(encoding="utf-8"))

PARTS = {  # the index's name of a part -> (section, name in the study)
    "yards": ("layers", "yards"),
    "plants": ("layers", "plants"),
    "soil_table": ("layers", "soil_tests"),
    "soil_ph": ("rasters", "ph"),
    "sun_hours": ("rasters", "sun_h"),
    "sun_class": ("rasters", "sun_h"),
}
STATEMENTS = {  # the index's name of a statement -> (section, key in the study)
    "crs": ("layers", "crs"),
    "encoding": ("layers", "encoding"),
    "raster_crs": ("rasters", "crs"),
    "band": ("rasters", "band"),
    "scale": ("rasters", "scale"),
}
BLOCK = "block_for_plants.geojson"  # a yard around the plants, for cases that bring plants only


def parts_of(case):
    if "inputs" in case:
        return dict(case["inputs"])
    return {"plants" if case["layer_kind"].startswith("plants") else "yards": case["file"]}


def write_study(case, folder, says=None):
    """Write the study file of a case and return its path."""
    parts = parts_of(case)
    legend = parts.pop("legend", None)
    parts.setdefault("yards", BLOCK)
    lines = ["[study]", f'name = "{case["case"]}"', "date = 2026-03-01"]
    for part, file in parts.items():
        section, name = PARTS[part]
        lines += [f"[{section}.{name}]", f"path = {json.dumps(str(HERE / file))}"]
        if legend and part == "sun_class":
            lines += ['kind = "class"', f"classes = {json.dumps(str(HERE / legend))}"]
        for key, value in (says or {}).items():
            where, ours = STATEMENTS[key]
            if where == section and file != BLOCK:
                lines.append(f"{ours} = {json.dumps(value)}")
    path = Path(folder) / "study.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
