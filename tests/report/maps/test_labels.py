"""Labels never lie on each other, on lines only where there is no room, the weightier first."""

import itertools

import matplotlib as mpl
import numpy as np

from habitat.report.maps.labels import Label, place_labels
from habitat.report.maps.style import style


def labelled(labels, **options):
    """Return the boxes of labels written on an empty map of 100 m, and how many were left out."""
    figure = mpl.figure.Figure(figsize=(4, 4), dpi=100)
    mpl.backends.backend_agg.FigureCanvasAgg(figure)
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 100), ylim=(0, 100))
    with style():
        left_out = place_labels(ax, labels, **options)
        boxes = [t.get_window_extent(figure.canvas.get_renderer()) for t in ax.texts]
    return boxes, left_out


def test_labels_never_collide_whatever_the_crowd():
    rng = np.random.default_rng(5)
    crowd = [Label(x, y, f"yard {k}") for k, (x, y) in enumerate(rng.uniform(5, 95, (120, 2)))]
    boxes, left_out = labelled(crowd)
    assert len(boxes) + left_out == 120
    assert 0 < left_out < 110
    for a, b in itertools.combinations(boxes, 2):
        assert a.x1 <= b.x0 or b.x1 <= a.x0 or a.y1 <= b.y0 or b.y1 <= a.y0


def test_the_weightier_label_goes_first():
    one, two = Label(50, 50, "light", away=False), Label(50, 50, "heavy", weight=2.0, away=False)
    boxes, left_out = labelled([one, two])
    assert (len(boxes), left_out) == (1, 1)


def test_labels_keep_off_lines_where_there_is_room():
    line = np.array([[0.0, 48.0], [100.0, 56.0]])
    (box,), _ = labelled([Label(50, 52, "a label of some length")], off=[line])
    for x in np.linspace(box.x0, box.x1, 20):
        y = 4 * np.interp(x / 4, line[:, 0], line[:, 1])
        assert not box.y0 <= y <= box.y1
