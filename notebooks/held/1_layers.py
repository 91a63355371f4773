# What the checks of notebook 1 hold answers against: teachers may read on, students had better not.

# %% Exercise 1.1
hold(area_m2, lambda a: abs(a - shapely.area(yards.geometry.iloc[0])) < 0.5, "Use the layer whose axes count metres.")
hold(area_in_degrees, lambda a: 0 < a < 1e-3, "Ask the layer in degrees; the number has no useful unit.")

# %% Exercise 1.2
latitude = np.radians(in_degrees.geometry.iloc[0].centroid.y)
hold(factor, near(1 / np.cos(latitude) ** 2, 0.03), "Divide the total area in one CRS by the total area in the other. At the equator it would be 1.")

# %% Exercise 1.3
latitude = np.radians(in_degrees.geometry.iloc[0].centroid.y)
hold(radius_on_the_ground_m, near(100 * np.cos(latitude), 1.0), "Lengths are too long by 1 / cos(latitude).")

# %% Exercise 1.4
hold(true_area_m2, near(200.0, 0.5), "It is two triangles: read base and height off the corners.")
hold(area_before_repair_m2, near(abs(bowtie.area), 0.5), "Ask messy.geometry.area: the two lobes turn opposite ways.")

# %% Exercise 1.5
hold(used, lambda n: (n, repaired, set_aside) == (layer["used"], layer["repaired"], layer["set_aside"]), "Read them from the report above.")
hold(rows_in, lambda n: n == used + repaired + set_aside, "They must add up.")

# %% Exercise 1.6
_joined = gpd.sjoin(points.to_crs(yards.crs), yards)
hold(yard_with_most_plants, lambda y: y == _joined.groupby("yard_id")["count"].sum().idxmax(), "Sum the column count by yard_id and take the largest.")

# %% Exercise 1.7
hold(unknown_share, near(float(np.isnan(ph).mean()), 0.005), "np.isnan(ph) is True where the value is unknown.")
hold(wrong_mean, near(float(np.nan_to_num(ph, nan=0.0).mean()), 0.02), "np.nan_to_num(ph, nan=0.0) makes the mistake for you.")
