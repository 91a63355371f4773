# Instructor's key to notebook 2.

# %% Exercise 2.1
def trapezium(value, low, opt_low, opt_high, high):
    return float(np.interp(value, [low, opt_low, opt_high, high], [0, 1, 1, 0]))

# %% Exercise 2.2
by_scarcest = min(scores.values())
by_geometric_mean = np.prod(list(scores.values())) ** (1 / 3)

# %% Exercise 2.3
shares = (low >= 0.75).mean(axis=(1, 2))
best_plant = needs.plants[int(shares.argmax())]

# %% Exercise 2.4: a class is given only where the interval lies within one class.
undecided_share = ((low[0] < 0.5) & (high[0] >= 0.5)).mean()

# %% Exercise 2.5
fewer = compile_needs(knowledge, study.suitability, tuple(name for name in site.assessed if name != "drainage"))
newly_not_assessed = set(fewer.not_assessed) - set(needs.not_assessed)

# %% Exercise 2.6: never lower, since the scarcest need is the smallest of the scores; bytes round to 1/255.
disagree_share = ((map_a >= 0.5) != (map_b >= 0.5)).mean()
b_can_be_lower = bool((map_b < map_a - 1.5 / 255).any())
