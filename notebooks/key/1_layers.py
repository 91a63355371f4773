# Instructor's key to notebook 1. Each block is put before the check of its exercise by run_all.py.

# %% Exercise 1.1: .area has the square of the axes' unit; a square degree is not an area on the ground.
area_m2 = yards.geometry.iloc[0].area
area_in_degrees = in_degrees.geometry.iloc[0].area

# %% Exercise 1.2: about 1.70 at 39.9 degrees north.
factor = in_web_mercator.area.sum() / yards.area.sum()

# %% Exercise 1.3: about 77 m.
latitude = np.radians(in_degrees.geometry.iloc[0].centroid.y)
radius_on_the_ground_m = 100 * np.cos(latitude)

# %% Exercise 1.4: the signed areas of the lobes cancel, so .area says 0.
true_area_m2 = 2 * (20 * 10 / 2)
area_before_repair_m2 = messy.geometry.iloc[1].area

# %% Exercise 1.5: the square is used as it came, two outlines are repaired, the row without a shape is set aside.
used, repaired, set_aside = layer["used"], layer["repaired"], layer["set_aside"]
rows_in = layer["rows_in"]

# %% Exercise 1.6
joined = gpd.sjoin(points.to_crs(yards.crs), yards)
yard_with_most_plants = joined.groupby("yard_id")["count"].sum().idxmax()

# %% Exercise 1.7: taking unknown for 0 drags the mean far below any real soil of the town.
unknown_share = np.isnan(ph).mean()
wrong_mean = np.nan_to_num(ph, nan=0.0).mean()
