"""Who lives in Quillwater and what they know: sign-up sheet, plants, soil tests, sightings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer
from shapely import Point
from town_ground import CRS, ORIGIN
from town_lots import Lot
from town_streets import anchors, creek

GARDEN_PLANTS = [
    ("Echinacea purpurea", 9),
    ("Monarda fistulosa", 7),
    ("Asclepias tuberosa", 6),
    ("Asclepias syriaca", 7),
    ("Asclepias incarnata", 5),
    ("Rudbeckia hirta", 8),
    ("Symphyotrichum novae-angliae", 5),
    ("Aster laevis", 4),
    ("Aster novae-angliae", 5),
    ("Symphyotrichum cordifolium", 4),
    ("Viola sororia", 11),
    ("Viola papilionacea", 5),
    ("Zizia aurea", 6),
    ("Eupatorium fistulosum", 4),
    ("Eutrochium purpureum", 3),
    ("Lindera benzoin", 8),
    ("Juniperus virginiana", 12),
    ("Sassafras albidum", 4),
    ("Quercus alba", 4),
    ("Prunus serotina", 5),
    ("Cercis canadensis", 6),
    ("Aristolochia durior", 5),
    ("Chelone glabra", 7),
    ("Cimicifuga racemosa", 3),
    ("Senecio aureus", 4),
    ("Packera aurea", 3),
    ("Dentaria laciniata", 4),
    ("Cardamine concatenata", 3),
    ("Andropogon scoparius", 4),
    ("Tridens flavus", 4),
    ("Liatris spicata", 4),
    ("Solidago speciosa", 3),
    ("Penstemon digitalis", 4),
    ("Phlox paniculata", 5),
    ("Vernonia gigantea", 3),
    ("Lonicera sempervirens", 3),
    ("Carex blanda", 3),
    ("Asimina triloba", 3),
    ("Celtis occidentalis", 3),
    ("Pycnanthemum muticum", 3),
]
"""Names as neighbours wrote them (some are old names), and how often."""

CLUMPS = {"Viola": 14, "Tridens": 10, "Andropogon": 8, "Carex": 9, "Dentaria": 8, "Cardamine": 8}
STAND, STAND_PLANTS = 180, 12
"""Row and plants of a stand of swamp milkweed that feeds a brood of monarchs far from any other bloom, which
falls short of their months of flight: in one place of the town nectar decides."""
WET = ("Asclepias incarnata", "Chelone glabra", "Eupatorium fistulosum")
LONE = (
    "Lindera",
    "Juniperus",
    "Sassafras",
    "Quercus",
    "Prunus",
    "Cercis",
    "Aristolochia",
    "Asimina",
    "Celtis",
    "Lonicera",
)
TEXTURES = ("loam", "silt loam", "clay loam", "sandy loam")


def to_lonlat(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return longitude and latitude of local coordinates, to about a decimetre."""
    to_degrees = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(np.asarray(x) + ORIGIN[0], np.asarray(y) + ORIGIN[1])
    return np.round(lon, 6), np.round(lat, 6)


def addresses(lots: list[Lot]) -> list[str]:
    """Return an address per lot: house numbers rise along the street, odd on one side."""
    number: dict[str, int] = {}
    out = []
    for lot in lots:
        side = lot.block % 2
        key = f"{lot.street}/{side}"
        number[key] = number.get(key, 1 - side) + 2
        out.append(f"{number[key]} {lot.street}")
    return out


def participants(
    lots: list[Lot], parcel: list[str], address: list[str], rng: np.random.Generator
) -> pd.DataFrame:
    """Return the sign-up sheet: members gather in a few streets, candidates around them."""
    centres = np.array([lot.shape.centroid.coords[0] for lot in lots])
    ends = np.array([a.centroid.coords[0] for _, _, a in anchors()])
    spine = np.array(
        [
            [200.0, 110.0],
            [480.0, 270.0],
            [640.0, 560.0],
            [190.0, 270.0],
            [330.0, 370.0],
            [330.0, 640.0],
            [250.0, 790.0],
        ]
    )
    middles = np.vstack([ends, spine])
    pull = np.min(np.hypot(*(centres[:, None] - middles[None]).transpose(2, 0, 1)), axis=1)
    order = np.argsort(pull + rng.gumbel(0, 45.0, len(lots)), kind="stable")
    role = np.full(len(lots), "other", dtype=object)
    role[order[:66]], role[order[66:120]] = "member", "candidate"
    keep = np.flatnonzero((role != "other") | (rng.random(len(lots)) < 0.1))
    rows = [_household(parcel[i], address[i], str(role[i]), rng) for i in keep]
    frame = pd.DataFrame(rows)
    for row in (4, 19, 33, 58):  # a few gave no parcel number, only their address
        frame.loc[row, "yard_id"] = ""
    return frame


def _household(parcel: str, address: str, role: str, rng: np.random.Generator) -> dict:
    joins = role == "member"
    return {
        "yard_id": parcel,
        "address": address,
        "role": role,
        "publish": rng.choice(["yes", "no", ""], p=[0.72, 0.14, 0.14])
        if joins
        else rng.choice(["", "yes"], p=[0.8, 0.2]),
        "budget": int(rng.choice([120, 180, 250, 400, 600])) if joins and rng.random() < 0.7 else "",
        "children": "yes" if rng.random() < 0.28 else "",
        "pets": "yes" if rng.random() < 0.33 else "",
        "sprayed": "yes" if rng.random() < (0.05 if joins else 0.1) else "",
        "deer": "yes" if rng.random() < 0.2 else "",
        "max_height_m": rng.choice([1.2, 1.5, 2.0]) if rng.random() < 0.1 else "",
    }


def plants(lots: list[Lot], open_ground: list, rng: np.random.Generator) -> pd.DataFrame:
    """Return about 200 plants and clumps that grow already; one name is nobody's."""
    names = [n for n, times in GARDEN_PLANTS for _ in range(times)]
    wet = [i for i, lot in enumerate(lots) if lot.shape.distance(creek()) < 95]
    rows = []
    for name in [*names, "moonlantern vine"]:
        home = int(rng.choice(wet)) if name in WET else int(rng.integers(len(lots)))
        point = _inside(open_ground[home], rng)
        lone = name.startswith(LONE)
        size = CLUMPS.get(name.split()[0], 4)
        count = 1 if lone else int(rng.integers(max(1, size // 2), size * 2))
        rows.append((name, count, point.x, point.y, int(rng.integers(2008, 2025))))
    rows = [rows[i] for i in rng.permutation(len(rows))]
    frame = pd.DataFrame(rows, columns=["plant", "count", "lon", "lat", "planted"])
    frame["lon"], frame["lat"] = to_lonlat(frame["lon"], frame["lat"])
    frame.loc[STAND, "count"] = STAND_PLANTS
    return frame


def _inside(ground: shapely.Geometry, rng: np.random.Generator) -> Point:
    west, south, east, north = ground.bounds
    while True:
        point = Point(rng.uniform(west, east), rng.uniform(south, north))
        if ground.contains(point):
            return point


def soil_tests(sheet: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return what a few test kits said."""
    known = sheet[(sheet["yard_id"] != "") & (sheet["role"] == "member")]["yard_id"].tolist()
    rows = []
    for parcel in sorted(rng.choice(known, 14, replace=False)):
        depth = int(rng.integers(60, 120)) if rng.random() < 0.4 else ""
        rows.append(
            (
                parcel,
                round(float(rng.normal(6.5, 0.35)), 1),
                str(rng.choice(TEXTURES)),
                int(rng.integers(4, 6)),
                depth,
            )
        )
    return pd.DataFrame(rows, columns=["yard_id", "ph", "texture", "drainage", "depth_cm"])


def growers() -> pd.DataFrame:
    """Return what growers near the town offer; prices in the group's own currency."""
    plugs, seed, woody = _herbs_grown(), _seed_sold(), _woody_grown()
    return pd.DataFrame(plugs + seed + woody, columns=["plant", "form", "price", "quantity", "months"])


Offer = tuple[str, str, float, int, str]


def _herbs_grown() -> list[Offer]:
    """Return herbs as plugs, price each."""
    several = {
        2.0: "Asclepias incarnata;Asclepias tuberosa;Asclepias syriaca;Asclepias purpurascens;Zizia aurea",
        2.1: "Zizia aptera;Taenidia integerrima;Chelone glabra;Monarda fistulosa;Pycnanthemum muticum",
        2.2: "Symphyotrichum cordifolium;Symphyotrichum laeve;Symphyotrichum novae-angliae;Packera aurea",
        2.3: "Symphyotrichum oblongifolium;Symphyotrichum undulatum;Eurybia divaricata;Solidago caesia",
        2.4: "Solidago speciosa;Solidago flexicaulis;Solidago rugosa;Eutrochium purpureum;Liatris spicata",
        2.5: "Verbena hastata;Vernonia noveboracensis;Eupatorium perfoliatum;Phlox paniculata",
        2.6: "Lobelia cardinalis;Rudbeckia hirta;Rudbeckia laciniata;Penstemon digitalis",
        2.7: "Conoclinium coelestinum;Geranium maculatum;Phlox divaricata;Pycnanthemum tenuifolium",
        1.8: "Tridens flavus;Elymus hystrix;Carex blanda;Carex pensylvanica;Schizachyrium scoparium",
        1.9: "Panicum virgatum;Andropogon gerardii;Chasmanthium latifolium;Leersia virginica",
        3.2: "Eutrochium fistulosum;Endodeca serpentaria;Phlox subulata",
    }
    return [(p, "plug", price, 600, "4-6") for price, names in several.items() for p in names.split(";")]


def _seed_sold() -> list[Offer]:
    """Return low forbs as seed, price of a packet."""
    several = {
        4.0: "Viola sororia;Viola striata;Viola labradorica;Viola pubescens;Antennaria plantaginifolia",
        4.5: "Erigeron pulchellus;Packera obovata;Salvia lyrata;Phlox pilosa",
        5.0: "Arabidopsis lyrata;Cardamine concatenata;Asclepias quadrifolia",
    }
    return [(p, "seed", price, 120, "3-11") for price, names in several.items() for p in names.split(";")]


def _woody_grown() -> list[Offer]:
    """Return shrubs, vines and trees, price each."""
    shrubs = "Lindera benzoin;Rhus aromatica;Ceanothus americanus;Viburnum prunifolium;Hamamelis virginiana"
    shrubs += ";Ptelea trifoliata;Zanthoxylum americanum;Cornus racemosa;Vaccinium corymbosum;Salix humilis"
    vines = "Isotrema macrophyllum;Isotrema tomentosum;Lonicera sempervirens;Passiflora incarnata"
    trees = "Cercis canadensis;Cornus florida;Amelanchier arborea;Sassafras albidum;Asimina triloba"
    trees += ";Liriodendron tulipifera;Prunus serotina;Celtis occidentalis;Quercus alba"
    return [
        ("Juniperus virginiana", "bare root", 5.0, 80, "3-4"),
        *((p, "pot", 16.0, 80, "4-10") for p in shrubs.split(";")),
        *((p, "pot", 19.0, 60, "4-10") for p in vines.split(";")),
        *((p, "pot", 38.0, 40, "4-10") for p in trees.split(";")),
    ]


SEEN = [
    ("Danaus plexippus", 6, 10),
    ("Papilio polyxenes", 5, 10),
    ("Phyciodes tharos", 5, 10),
    ("Papilio troilus", 5, 9),
    ("Argynnis cybele", 6, 9),
    ("Euphydryas phaeton", 6, 7),
    ("Callophrys gryneus", 4, 9),
    ("Lon zabulon", 5, 9),
    ("Anthocharis midea", 4, 5),
    ("Speyeria cybele", 6, 9),
]


def sightings(lots: list[Lot], rng: np.random.Generator) -> pd.DataFrame:
    """Return two seasons of counts in yards and in the anchors."""
    places = [lot.shape.centroid for lot in lots] + [a.representative_point() for _, _, a in anchors()] * 12
    rows = []
    for _ in range(60):
        name, first, last = SEEN[int(rng.integers(len(SEEN)))]
        place = places[int(rng.integers(len(places)))]
        date = f"{rng.integers(2024, 2026)}-{rng.integers(first, last + 1):02d}-{rng.integers(1, 29):02d}"
        stage = str(rng.choice(["adult", "adult", "adult", "larva", "egg"]))
        rows.append(
            (date, place.x, place.y, name, stage, int(rng.integers(1, 7)), int(rng.choice([10, 15, 20])))
        )
    frame = pd.DataFrame(rows, columns=["date", "lon", "lat", "butterfly", "stage", "count", "minutes"])
    frame["lon"], frame["lat"] = to_lonlat(frame["lon"], frame["lat"])
    return frame.sort_values(["date", "butterfly", "lon"], kind="stable").reset_index(drop=True)
