"""The look of all maps and figures: paper, ink, type, frame, scale bar, north arrow, legend, caption.

Data colours are matplotlib's perceptually even maps (viridis, cividis), which people with any of the usual
kinds of colour blindness can read; classes also differ by hatch or shape, so that a print in black and white
still tells.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from habitat.grid import Bounds
from habitat.report.plan import Plan
from habitat.report.words.months import date_words
from habitat.report.words.numbers import M_PER_FT
from habitat.report.words.text import plain

PAPER, INK, QUIET, RULE = "#fcfbf7", "#23302c", "#5d6762", "#c9c5b8"
FAMILY = "Source Sans 3"
FONTS = ("SourceSans3-Regular.ttf", "SourceSans3-Italic.ttf", "SourceSans3-SemiBold.ttf")
SIZE_IN = (10.0, 8.0)
BAR_TOP_IN = 1.45
"""Where scale bar and north arrow end, from the foot of the sheet [in]."""

PACKED = 3
"""How hard PNG files are packed (0-9): maps get no larger than at 6, in two thirds of the time."""

PANEL_IN = 2.55
"""Width of the panel on the right that holds the legend [in]."""

AUDIENCE = {
    "group": "For the group only: please do not publish or pass on.",
    "public": "For everybody: only what households agreed to show.",
}

STYLE: dict[str, Any] = {
    "font.family": [FAMILY, "DejaVu Sans"],
    "font.size": 9.0,
    "text.color": INK,
    "text.parse_math": False,
    "axes.edgecolor": RULE,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "hatch.linewidth": 0.5,
    "svg.hashsalt": "habitat",
    "svg.fonttype": "path",
}


@functools.cache
def load_fonts() -> None:
    """Make the shipped fonts known to matplotlib, once."""
    for name in FONTS:
        with as_file(files("habitat.report") / "assets" / name) as path:
            font_manager.fontManager.addfont(str(path))
    entries = font_manager.fontManager.ttflist
    mine = [e for e in entries if e.name == FAMILY and e.weight == 600]
    entries += [dataclasses.replace(e, weight=700) for e in mine]  # bold means this one, for all scripts


@contextmanager
def style() -> Iterator[None]:
    """Set the project's look for the figures made and saved inside."""
    load_fonts()
    with mpl.rc_context(STYLE):  # type: ignore[arg-type]  # keys are literals in its types
        yield


@dataclass
class Sheet:
    """One map or figure: title on top, picture at left, legend at right, caption below.

    ``bounds`` are those of the picture in map metres, None for a figure that is no map.
    """

    plan: Plan
    title: str
    subtitle: str = ""
    bounds: Bounds | None = None
    size_in: tuple[float, float] = SIZE_IN
    figure: Figure = field(init=False)
    foot_in: float = field(init=False, default=math.inf)
    bar: Any = field(init=False, default=None)

    def __post_init__(self) -> None:
        if self.bounds is not None and self.size_in is SIZE_IN:
            self.size_in = size_for(self.bounds)
        self.figure = Figure(figsize=self.size_in, dpi=self.plan.study.report.dpi)
        FigureCanvasAgg(self.figure)
        self.text(0.45, self.height - 0.50, plain(self.title, 90), size=19, weight="bold")
        if self.subtitle:
            self.text(0.46, self.height - 0.76, plain(self.subtitle, 150), size=10, color=QUIET)

    @property
    def renderer(self) -> Any:
        """What measures text on this figure."""
        canvas: Any = self.figure.canvas
        return canvas.get_renderer()

    @property
    def width(self) -> float:
        """Width [in]."""
        return self.size_in[0]

    @property
    def height(self) -> float:
        """Height [in]."""
        return self.size_in[1]

    def text(self, x_in: float, y_in: float, words: str, **kind: Any) -> Any:
        """Write text at a place in inches from the lower left corner."""
        return self.figure.text(x_in / self.width, y_in / self.height, words, **kind)

    def axes(self, left: float, bottom: float, wide: float, high: float) -> Any:
        """Return axes at a place in inches."""
        w, h = self.size_in
        return self.figure.add_axes((left / w, bottom / h, wide / w, high / h))

    def map_axes(self, left: float, bottom: float, wide: float, high: float) -> Any:
        """Return axes for a map that fills a place in inches, without ticks, one metre as long both ways."""
        ax = self.axes(left, bottom, wide, high)
        ax.set_xticks([])
        ax.set_yticks([])
        if self.bounds is not None:
            west, south, east, north = grown(self.bounds, wide / high)
            ax.set(xlim=(west, east), ylim=(south, north))
        ax.set_aspect("equal")
        return ax

    def main_map(self) -> Any:
        """Return the axes of the one map of a sheet; scale bar and north arrow stand in the panel."""
        ax = self.map_axes(0.45, 0.75, self.width - PANEL_IN - 0.75, self.height - 1.75)
        scale_bar(self, ax)
        return ax

    def panels(self, titles: Sequence[str], columns: int) -> list[Any]:
        """Return axes for several small maps, in rows, with their titles; one scale bar serves all."""
        rows = -(-len(titles) // columns)
        wide = (self.width - PANEL_IN - 0.75 - 0.15 * (columns - 1)) / columns
        high = (self.height - 1.75 - 0.32 * rows) / rows
        out = []
        for k, title in enumerate(titles):
            row, column = divmod(k, columns)
            left, bottom = 0.45 + column * (wide + 0.15), self.height - 1.0 - (row + 1) * (high + 0.32) + 0.05
            out.append(self.map_axes(left, bottom, wide, high))
            self.text(left, bottom + high + 0.07, title, size=9.5, weight="bold")
        if out and self.bounds is not None:
            scale_bar(self, out[0])
        return out

    def legend(self, groups: Sequence[tuple[str, Sequence[tuple[Any, str]]]], top_in: float = 0.0) -> float:
        """Write the legend in words down the right side; return where it ends [in from the bottom].

        Parameters
        ----------
        groups
            (heading, entries); an entry is (matplotlib handle, words).
        """
        left, y = self.width - PANEL_IN, top_in or self.height - 1.05
        for heading, entries in groups:
            if not entries:
                continue
            self.text(left, y - 0.1, heading, size=9.5, weight="bold")
            box = self.figure.legend(
                handles=[h for h, _ in entries],
                labels=[wrapped(w, 36) for _, w in entries],
                loc="upper left",
                bbox_to_anchor=((left - 0.06) / self.width, (y - 0.17) / self.height),
                frameon=False,
                fontsize=8.5,
                handlelength=1.7,
                handleheight=1.1,
                labelspacing=0.55,
                borderpad=0.2,
                alignment="left",
            )
            y -= 0.42 + box.get_window_extent(self.renderer).height / self.figure.dpi
        self.foot_in = min(self.foot_in, y + 0.15)
        return y

    def notes(self, lines: Sequence[str], y_in: float) -> None:
        """Write short sentences under the legend."""
        words = "\n\n".join(wrapped(line, 42) for line in lines if line)
        box = self.text(self.width - PANEL_IN, y_in, words, size=8.3, color=QUIET, va="top", linespacing=1.3)
        high = box.get_window_extent(self.renderer).height / self.figure.dpi
        self.foot_in = min(self.foot_in, y_in - high if words else math.inf)

    def _make_room(self) -> None:
        """Make the sheet taller if the panel reaches down into scale bar and north arrow.

        Everything moves up but what stands at the foot; a map that is alone gains ground above and below.
        """
        more = BAR_TOP_IN - self.foot_in
        if more <= 0.0:
            return
        old, new = self.height, self.height + more
        self.size_in = (self.width, new)
        self.figure.set_size_inches(*self.size_in)
        for text in self.figure.texts:
            text.set_y((text.get_position()[1] * old + more) / new)
        for legend in self.figure.legends:
            x, y = legend.get_bbox_to_anchor().transformed(self.figure.transFigure.inverted()).p0
            legend.set_bbox_to_anchor((x, (y * old + more) / new), transform=self.figure.transFigure)
        alone = sum(ax.get_aspect() != "auto" for ax in self.figure.axes) == 1
        for ax in self.figure.axes:
            place = ax.get_position(original=True)
            low, high = place.y0 * old, place.height * old
            if ax.get_aspect() != "auto" and alone:
                south, north = ax.get_ylim()
                grow = (north - south) * more / high / 2
                ax.set_ylim(south - grow, north + grow)
                high += more
            elif ax is not self.bar:
                low += more
            ax.set_position((place.x0, low / new, place.width, high / new))

    def caption(self, data: str) -> None:
        """Write date, data and resolution below, and for whom the map is; nothing moves after this."""
        self._make_room()
        head = self.plan.study.study
        line = self.figure.add_artist(
            mpl.lines.Line2D(
                [0.45 / self.width, 1 - 0.4 / self.width], [0.6 / self.height] * 2, lw=0.6, color=RULE
            )
        )
        line.set_in_layout(False)
        parts = [p for p in (plain(head.name), date_words(head.date), plain(data, 190)) if p]
        lines = ["  ·  ".join(parts)]
        if self._long_in(lines[0], 7.6) > self.width - 0.86:
            lines = ["  ·  ".join(parts[:-1]), parts[-1]]
        lines.append(f"{AUDIENCE[self.plan.study.report.audience]} Parcel lines are not a survey.")
        top, step = (0.42, 0.18) if len(lines) == 2 else (0.45, 0.16)
        for k, words in enumerate(lines):
            self.text(0.46, top - step * k, words, size=7.6, color=QUIET)

    def _long_in(self, words: str, size: float) -> float:
        """Return how long a line of text is [in]."""
        text = self.text(0.0, 0.0, words, size=size)
        long = text.get_window_extent(self.renderer).width / self.figure.dpi
        text.remove()
        return float(long)

    def save(self, folder: Path, name: str) -> list[Path]:
        """Save as PNG, and as SVG if the study asks for it; no date or version goes into the files."""
        out = [folder / f"{name}.png"]
        packed = {"compress_level": PACKED}
        self.figure.savefig(
            out[0], dpi=self.plan.study.report.dpi, metadata={"Software": None}, pil_kwargs=packed
        )
        if "svg" in self.plan.study.report.formats:
            out.append(folder / f"{name}.svg")
            self.figure.savefig(out[1], metadata={"Date": None, "Creator": None})
        self.figure.clear()  # a figure holds its rasters until somebody looks for cycles
        return out


def size_for(bounds: Bounds) -> tuple[float, float]:
    """Return the size of a sheet [in] with one map of these bounds: about as high as letter paper is wide.

    Examples
    --------
    >>> size_for((0.0, 0.0, 700.0, 900.0)), size_for((0.0, 0.0, 2000.0, 500.0))
    ((8.6, 8.5), (12.6, 4.9))
    """
    west, south, east, north = bounds
    ratio = max(east - west, 1.0) / max(north - south, 1.0)
    wide = min(max(6.75 * ratio, 4.2), 9.3)
    high = min(max(wide / ratio, 3.15), 6.75)
    return round(wide + PANEL_IN + 0.75, 1), round(high + 1.75, 1)


def size_for_panels(bounds: Bounds, count: int, columns: int) -> tuple[float, float]:
    """Return the size of a sheet [in] whose small maps have the shape of the town.

    Examples
    --------
    >>> size_for_panels((0.0, 0.0, 700.0, 900.0), 2, 2)
    (12.9, 8.1)
    """
    west, south, east, north = bounds
    ratio = max(east - west, 1.0) / max(north - south, 1.0)
    rows = -(-count // columns)
    high = min(6.5 / rows, 9.4 / columns / ratio)
    wide = max(high * ratio * columns + 0.15 * (columns - 1), 3.2)
    return round(wide + PANEL_IN + 0.75, 1), round(max(high + 0.32, 2.2) * rows + 1.75, 1)


def wrapped(words: str, width: int) -> str:
    """Return text broken into lines of at most ``width`` letters."""
    lines: list[str] = []
    kept = re.sub(r"(?<=\d) (?=(?:m|ft|h|cm|in|mm|m2|sq ft)\b)", "\u00a0", words)  # numbers keep their units
    for word in re.split(r"[ \t\n]+", kept.strip()):
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return "\n".join(lines)


def grown(bounds: Bounds, ratio: float, margin: float = 0.02) -> Bounds:
    """Return bounds with a margin, widened to a ratio of width to height about their middle."""
    west, south, east, north = bounds
    wide, high = max(east - west, 1.0) * (1 + 2 * margin), max(north - south, 1.0) * (1 + 2 * margin)
    wide, high = max(wide, high * ratio), max(high, wide / ratio)
    x, y = (west + east) / 2, (south + north) / 2
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2


def bar_length(longest: float) -> float:
    """Return the greatest of 1, 2, 5 x a power of ten that is no longer.

    Examples
    --------
    >>> bar_length(180.0), bar_length(7.0), bar_length(23.0)
    (100.0, 5.0, 20.0)
    """
    power = 10.0 ** math.floor(math.log10(longest))
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= longest)


def scale_bar(sheet: Sheet, ax: Any) -> None:
    """Draw scale bar and north arrow for a map at the foot of the panel, clear of everything on the map."""
    west, east = ax.get_xlim()
    inches = ax.get_position().width * sheet.width
    unit_m, unit = (M_PER_FT, "ft") if sheet.plan.study.report.units == "us" else (1.0, "m")
    per_in = (east - west) / inches / unit_m
    length = bar_length(1.55 * per_in)
    long = length / per_in
    left, bottom = sheet.width - PANEL_IN, 0.85
    own = sheet.bar = sheet.axes(left, bottom, PANEL_IN - 0.3, 0.5)
    own.set(xlim=(0, PANEL_IN - 0.3), ylim=(0, 0.5))
    own.axis("off")
    for k, colour in enumerate((INK, PAPER)):
        own.add_patch(mpl.patches.Rectangle((k * long / 2, 0.02), long / 2, 0.055, fc=colour, ec=INK, lw=0.7))
    for value, at in ((0.0, 0.0), (length / 2, long / 2), (length, long)):
        words = f"{value:g}" + (f" {unit}" if value == length else "")
        own.text(at, 0.1, words, size=7.5, ha="center" if value else "left", va="bottom")
    x = PANEL_IN - 0.5
    own.annotate(
        "",
        xy=(x, 0.48),
        xytext=(x, 0.16),
        arrowprops={"arrowstyle": "-|>", "fc": INK, "ec": INK, "lw": 1.0, "mutation_scale": 11},
    )
    own.text(x, 0.0, "N", size=8.5, weight="bold", ha="center", va="bottom")
