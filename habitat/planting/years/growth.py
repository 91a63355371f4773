"""How far a plant has spread by a plan year: shared by the program that chooses and by the drawing."""

from __future__ import annotations

from habitat.errors import ParameterError

FULL_SPREAD_YEARS = {"herb": 3.0, "shrub": 8.0, "tree": 25.0}
"""Growing seasons until the mature spread is reached, from a plug, pot or bare root: judgement."""

FIRST_SHARE = {"herb": 0.4, "shrub": 0.25, "tree": 0.1}
"""Share of the mature spread at the end of the first season: judgement."""

SEED_DELAY_YEARS = {"herb": 1, "shrub": 2, "tree": 2}
"""Seasons that a sown plant is behind a planted one: judgement."""


def growth_share(growth_form: str, age_years: int, form: str = "plug") -> float:
    """Return the share of the mature spread reached at the end of a season.

    Parameters
    ----------
    growth_form
        ``"herb"``, ``"shrub"`` or ``"tree"``.
    age_years
        Seasons in the ground, 1 for the first; 0 or less is not planted yet.
    form
        ``"seed"``, ``"plug"``, ``"pot"`` or ``"bare root"``; seed starts later.

    Returns
    -------
    float
        0 (not there yet) to 1 (mature): straight from the first season's share to 1.

    Raises
    ------
    ParameterError
        If the growth form is unknown.

    Examples
    --------
    >>> [round(growth_share("herb", age), 2) for age in (0, 1, 2, 3, 5)]
    [0.0, 0.4, 0.7, 1.0, 1.0]
    >>> growth_share("herb", 3, "seed")
    0.7
    """
    if growth_form not in FULL_SPREAD_YEARS:
        raise ParameterError("growth_form", growth_form, "one of " + ", ".join(FULL_SPREAD_YEARS))
    age = age_years - (SEED_DELAY_YEARS[growth_form] if form == "seed" else 0)
    if age < 1:
        return 0.0
    first, years = FIRST_SHARE[growth_form], FULL_SPREAD_YEARS[growth_form]
    return min(1.0, first + (1.0 - first) * (age - 1) / (years - 1.0))


def crown_diameter_m(
    spread_m: float, growth_form: str, plan_year: int, planted_in: int = 1, form: str = "plug"
) -> float:
    """Return how wide a plant is [m] at the end of a plan year.

    Parameters
    ----------
    spread_m
        Mature spread [m].
    growth_form, form
        As in ``growth_share``.
    plan_year
        Plan year that is asked for, 1 for the first.
    planted_in
        Plan year in which it was planted.

    Examples
    --------
    >>> crown_diameter_m(0.6, "herb", 5)
    0.6
    >>> round(crown_diameter_m(12.0, "tree", 5), 1)
    3.0
    """
    return spread_m * growth_share(growth_form, plan_year - planted_in + 1, form)
