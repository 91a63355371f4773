"""How well eight gardens are connected for a butterfly, which counts most, and whom to invite next."""

import geopandas as gpd
import pandas as pd
from shapely import Point

import habitat.connectivity as connect

places_m = {"school": (0, 0), "Ash": (120, 20), "Birch": (260, 10), "Cedar": (390, 60), "Dogwood": (520, 0)}
places_m |= {"Elm": (250, 190), "Fir": (900, 0), "park": (660, 30)}
gardens = gpd.GeoDataFrame(
    {"habitat_m2": [60.0, 8, 0, 12, 5, 20, 40, 90]},
    index=list(places_m),
    geometry=[Point(337_000 + x, 4_418_000 + y).buffer(10) for x, y in places_m.values()],
    crs="EPSG:32617",
)

reach = connect.Reach(median_m=150.0)  # half of all moves are longer
links = connect.link_patches(gardens, reach.longest_m)
passage = connect.link_passage(links, reach)
area_m2 = gardens["habitat_m2"]

whole_m2 = connect.equivalent_connected_area(area_m2, links, passage)
print(f"{area_m2.sum():.0f} m2 in all are worth one garden of {whole_m2:.0f} m2")
importance = connect.patch_importance(area_m2, links, passage)
print(importance.sort_values("total_m2", ascending=False).round(1).head(4))

chain = connect.likeliest_chain(links, passage, "school", "park")
print(chain[["from", "to", "distance_m", "passage", "weakest"]].round(2))

# Nobody in Birch, Elm or Fir has planted yet; each would plant 15 m2.
may_join = pd.Series(gardens.index.isin(["Birch", "Elm", "Fir"]), gardens.index)
planted_m2 = area_m2.where(~may_join, 15.0)
print(connect.choose_patches(planted_m2, links, passage, may_join, number=2).round(1))
