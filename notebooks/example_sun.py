"""Which plants suit a garden 20 m wide and 30 m deep, by sun and soil: from heights and a soil test alone."""

import geopandas as gpd
import numpy as np
from shapely import box

import habitat

WEST, SOUTH = 337_000, 4_418_000  # UTM zone 17 north, about 40 degrees north
grid = habitat.Grid.from_bounds((WEST, SOUTH, WEST + 20, SOUTH + 30), 1.0, "EPSG:32617")
house_shape = box(WEST + 5, SOUTH + 10, WEST + 15, SOUTH + 20)
yard = gpd.GeoDataFrame({"yard_id": ["ours"]}, geometry=[box(*grid.bounds)], crs=grid.crs)
house = gpd.GeoDataFrame(geometry=[house_shape], crs=grid.crs)

heights_m = np.zeros(grid.shape, np.float32)
heights_m[10:20, 5:15] = 7.0  # the house; row 0 is in the north
hours = habitat.sun.sun_hours(
    habitat.sun.relief_of_heights(heights_m, grid), habitat.sun.SunTerms.of(season=(4, 10), sun_months=(5, 8))
)
texture = float(habitat.soil.texture_class(sand_pct=40, clay_pct=20))  # a loam
values = {"sun_h": hours.mean, "ph": np.full(grid.shape, 6.4, np.float32)}
values["texture"] = np.full(grid.shape, texture, np.float32)

tables = habitat.knowledge.load_knowledge()
needs = habitat.suitability.compile_needs(tables, assessed=tuple(values))
ground = habitat.ground.open_and_closed(yard, {"buildings": house})
beds = habitat.ground.open_mask(ground.open_ground, "herb", grid)
score = habitat.suitability.fit(needs, values).low[:, beds] / 255  # 0 to 1, for each plant on open ground

behind_h, front_h = hours.mean[8, 10], hours.mean[25, 10]
print(f"Just behind the house {behind_h:.0f} h of sun a day, in front of it {front_h:.0f} h")
for plant in ("Asclepias tuberosa", "Packera aurea", "Viola sororia", "Asimina triloba"):
    share = float((score[needs.plants.index(plant)] >= 0.75).mean())
    print(f"{plant}: sun and soil suit it on {share:.0%} of the open ground")
