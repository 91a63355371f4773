"""What each layer adds: how often the class of a plant at a place is told right without some of them.

python tests/benchmarks/bench_layers.py

Places are open ground of the demo town, plants all of the tables; right is the class with all layers. The
town is invented, so the figures say what to expect, not what is true elsewhere.
"""

import sys
from pathlib import Path

import numpy as np

from habitat.ground.open_ground import open_mask
from habitat.knowledge import load_knowledge
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.study.reading import read_study
from habitat.suitability import compile_needs, fit
from habitat.suitability.classes import class_number

PLACES = 20_000
WORDS = ((6.0, 7.0), (3.0, 4.5), (0.0, 2.0))
"""Least hours of full sun, part sun and shade, and what each is taken as (``habitat.factors.said``)."""

SUN = ("sun_h", "sun_afternoon_h")


def classes(knowledge, study, values, names):
    """Return (plants, places) class numbers 1 best to 4 with some factors, 0 where they do not decide."""
    needs = compile_needs(knowledge, study.suitability, names)
    found = fit(needs, {n: values[n] for n in names}, shape=(1, PLACES))
    low, high = (class_number(v[:, 0] / 255.0, needs.class_limits) for v in (found.low, found.high))
    return np.where(low == high, low, 0)


def in_words(values):
    """Return what is known where households tell full, part or shade, sand, loam or clay, and no more."""
    sun, texture = values["sun_h"], values["texture"]
    hours = np.select([sun >= least for least, _ in WORDS], [taken for _, taken in WORDS], np.nan)
    soil = np.select([texture <= 2, texture <= 7, texture <= 12], [1.0, 4.0, 12.0], np.nan)
    return {"sun_h": hours.astype(np.float32), "texture": soil.astype(np.float32)}


def main():
    """Print a line per set of layers."""
    study = read_study(Path("sample_geodata"))
    layers = read_layers(study)
    site = survey(study, layers)
    knowledge = load_knowledge(study.knowledge, study.folder)
    spots = np.argwhere(open_mask(site.open_ground, "herb", site.grid))
    spots = spots[np.random.default_rng(1).choice(len(spots), PLACES, replace=False)]
    values = {n: r[spots[:, 0], spots[:, 1]][None, :] for n, r in site.rasters.items()}
    known = np.isfinite(np.concatenate(list(values.values()))).all(axis=0)
    soil = tuple(n for n in site.assessed if n not in SUN)
    sun = tuple(n for n in site.assessed if n in SUN)
    truth = classes(knowledge, study, values, site.assessed)[:, known]
    told = in_words(values)
    for words, names, given in (
        ("sun alone", sun, values),
        ("soil alone", soil, values),
        ("neither", (), values),
        ("both", site.assessed, values),
        ("a word for sun (a bed, a walk)", ("sun_h",), told),
        ("a word for sun and one for soil", ("sun_h", "texture"), told),
    ):
        said = classes(knowledge, study, given, names)[:, known]
        grows = truth < 4
        sys.stdout.write(
            f"{words}: class right {np.mean(said == truth):.0%}; of plants said to do well (S1, S2) "
            f"{np.mean(truth[(said == 1) | (said == 2)] <= 2):.0%} do; cannot live there at all "
            f"{np.mean(~grows[(said == 1) | (said == 2)]):.0%}\n"
        )


if __name__ == "__main__":
    main()
