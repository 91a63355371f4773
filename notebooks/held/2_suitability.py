# What the checks of notebook 2 hold answers against: teachers may read on, students had better not.

# %% Exercise 2.1
_try = lambda f: [f(v, 5, 6, 7, 7.5) for v in (5, 5.5, 6.4, 7.25, 7.5)]
hold(trapezium(6.4, 5, 6, 7, 7.5), lambda _: np.allclose(_try(trapezium), [0, 0.5, 1, 0.5, 0]), "Try it at 5, 5.5, 6.4, 7.25 and 7.5: the scores should be 0, 0.5, 1, 0.5, 0. np.interp helps.")

# %% Exercise 2.2
hold(by_scarcest, near(0.4, 1e-9), "By the law of the minimum, one of the three decides.")
hold(by_geometric_mean, near((0.9 * 0.8 * 0.4) ** (1 / 3), 1e-6), "The mean that multiplies instead of adding: a root of a product.")

# %% Exercise 2.3
hold(best_plant, lambda p: p == needs.plants[int(np.argmax((low >= 0.75).mean(axis=(1, 2))))], "A comparison gives True and False for every cell; their mean is a share.")

# %% Exercise 2.4
hold(undecided_share, near(float(((low[0] < 0.5) & (high[0] >= 0.5)).mean()), 0.002), "Count cells with low[0] < 0.5 and high[0] >= 0.5.")

# %% Exercise 2.5
hold(newly_not_assessed, lambda s: set(s) == {"drainage"}, "compile_needs(knowledge, study.suitability, assessed) with a shorter tuple; compare .not_assessed with needs.not_assessed.")

# %% Exercise 2.6
hold(disagree_share, near(float(((map_a >= 0.5) != (map_b >= 0.5)).mean()), 0.002), "Compare (map_a >= 0.5) with (map_b >= 0.5).")
hold(b_can_be_lower, lambda x: x is False or x is np.False_, "Can a mean of several numbers lie below the smallest of them?")
