# Instructor's key to notebook 4.

# %% Exercise 4.1
k_200 = math.log(2) / 200
passage_400 = math.exp(-k_200 * 400)

# %% Exercise 4.2: naming the wrong distance shifts k more than four times.
k_wrong = -math.log(0.05) / 200
times = k_wrong / k_200

# %% Exercise 4.3: 3 + 4 x 0.5 + 2 x 0.25.
sum_under_root = 3 * 1 + 4 * 0.5 + 2 * 0.25
area_3 = math.sqrt(sum_under_root)

# %% Exercise 4.4
with_stone, without_stone = 2 + 2 * 0.25, 2 + 2 * 0.01
loss_pct = 100 * (with_stone - without_stone) / with_stone

# %% Exercise 4.5
gains_most = (linked["members"] - linked["today"]).idxmax()

# %% Exercise 4.6
steps = plan.invitation_steps.sort_values("invited")
middle = (steps["connected_m2"].iloc[0] + steps["connected_m2"].iloc[-1]) / 2
half_after = int(steps.loc[steps["connected_m2"] >= middle - 1e-9, "invited"].min())

# %% Exercise 4.7
least_sure = (ranges["high_m2"] / ranges["low_m2"]).idxmax()
