# What the checks of notebook 4 hold answers against: teachers may read on, students had better not.

# %% Exercise 4.1
hold(k_200, near(math.log(2) / 200, 1e-6), "ln 2 divided by the median.")
hold(passage_400, near(0.25, 1e-9), "How many medians lie in 400 m?")

# %% Exercise 4.2
hold(k_wrong, near(-math.log(0.05) / 200, 1e-5), "p(200) = 0.05.")
hold(times, near(math.log(0.05) / math.log(0.5), 0.01), "Divide one k by the other.")

# %% Exercise 4.3
hold(sum_under_root, near(5.5, 1e-9), "Nine pairs: 3 with themselves, 4 between neighbours (both ways), 2 from end to end.")
hold(area_3, near(math.sqrt(5.5), 1e-9), "The square root.")

# %% Exercise 4.4
hold(loss_pct, near(19.2, 0.05), "Sum both patches and their pair, there and back, with the stone and without; the loss is a share of the first.")

# %% Exercise 4.5
hold(gains_most, lambda n: n == (linked["members"] - linked["today"]).idxmax(), "Subtract one column from the other: where is the difference largest?")

# %% Exercise 4.6
_steps = plan.invitation_steps.sort_values("invited")
_half = (_steps["connected_m2"].iloc[0] + _steps["connected_m2"].iloc[-1]) / 2
hold(half_after, lambda n: n == int(_steps.loc[_steps["connected_m2"] >= _half - 1e-9, "invited"].min()), "Find the first row whose linked ground reaches the middle between the first and the last.")

# %% Exercise 4.7
_spread = ranges["high_m2"] / ranges["low_m2"]
hold(least_sure, lambda n: math.isclose(_spread[n], _spread.max(), abs_tol=1e-9), "Divide high_m2 by low_m2, and look for the largest.")
