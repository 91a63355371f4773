# Instructor's key to notebook 3.

# %% Exercise 3.1
square = math.floor(6 / 0.45**2)
triangular = math.floor(6 / (0.45**2 * math.sqrt(3) / 2))

# %% Exercise 3.2
both = set(knowledge.hosts_of("Phyciodes tharos")["plant"]) & set(knowledge.hosts_of("Chlosyne nycteis")["plant"])
feeds_both = sorted(both)[0] if both else "none"

# %% Exercise 3.3
months_without_bloom = set(range(4, 11))
for name in bed:
    row = knowledge.plants.loc[name]
    months_without_bloom -= set(range(int(row["bloom_start_month"]), int(row["bloom_end_month"]) + 1))

# %% Exercise 3.4
plants_in_all = int(plan.plantings["count"].sum())
cost_in_all = plan.plantings["cost"].sum()
own = pd.to_numeric(participants.set_index("yard_id").loc[members[0], "budget"], errors="coerce")
within_budget = cost_in_all <= (study.planting.budget if np.isnan(own) else own) + 1e-6

# %% Exercise 3.5: nothing changes where the household names a budget of its own.
frugal = habitat.run(study.changed(planting={"budget": 60.0}, connectivity={"rounds": 1}), yard_ids=(members[0],))
fewer_plants = plants_in_all - int(frugal.plantings["count"].sum())

# %% Exercise 3.6
mine = together.yard_butterflies
mine = mine[mine["yard_id"].isin(street) & (mine["missing"] == "")]
closed = mine.groupby("common_name").size()
closes_most = closed.idxmax() if len(closed) else "none"
