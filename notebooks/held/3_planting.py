# What the checks of notebook 3 hold answers against: teachers may read on, students had better not.

# %% Exercise 3.1
hold(square, near(math.floor(6 / 0.45**2), 0), "How much ground does each plant take on a square lattice? Whole plants only.")
hold(triangular, near(math.floor(6 / (0.45**2 * math.sqrt(3) / 2)), 0), "Each plant takes s*s*sqrt(3)/2.")

# %% Exercise 3.2
_a, _b = set(knowledge.hosts_of("Phyciodes tharos")["plant"]), set(knowledge.hosts_of("Chlosyne nycteis")["plant"])
hold(feeds_both, lambda p: (p in _a and p in _b) if _a & _b else p == "none", "Intersect the two lists; if nothing is left, answer 'none'.")

# %% Exercise 3.3
_open = {m for p in bed for m in range(int(knowledge.plants.loc[p, "bloom_start_month"]), int(knowledge.plants.loc[p, "bloom_end_month"]) + 1)}
hold(months_without_bloom, lambda s: set(s) == set(range(4, 11)) - _open, "Take the months of each plant together; what is left of 4 to 10?")

# %% Exercise 3.4
hold(plants_in_all, near(len(plan.plant_points), 0), "Sum the column count, or count plan.plant_points.")
hold(cost_in_all, near(float(plan.plantings["cost"].sum()), 0.01), "Sum the column cost.")
hold(within_budget, lambda x: bool(x) is True, "The yard's own budget, or the study's (250) where the yard names none.")

# %% Exercise 3.5
_own = pd.to_numeric(participants.set_index("yard_id").loc[members[0], "budget"], errors="coerce")
hold(fewer_plants, lambda n: n >= 0 and (n > 0 or not np.isnan(_own)), "Run it again with the smaller budget and compare the sums of count.")

# %% Exercise 3.6
_c = together.yard_butterflies[together.yard_butterflies["yard_id"].isin(street) & (together.yard_butterflies["missing"] == "")]
_n = _c.groupby("common_name").size()
hold(closes_most, lambda n: (len(_n) == 0 and n == "none") or _n[n] == _n.max(), "Keep rows of these yards with missing == '', count them by common_name.")
