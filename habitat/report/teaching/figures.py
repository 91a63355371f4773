"""Figures of the stages of butterflies and moths in plain forms, from data: SVG, 100 wide, 80 high."""

from __future__ import annotations

import math
from collections.abc import Mapping

WIDE, HIGH = 100, 80
INK, LEAF = "#22301f", "#8aa878"
COLORS = {
    "white": "#fbf6e6",
    "yellow": "#f0c63c",
    "orange": "#e5873a",
    "red": "#bf4332",
    "pink": "#e3a0b4",
    "purple": "#7d568f",
    "blue": "#6a8fc4",
    "green": "#93b566",
    "brown": "#8a6544",
    "tan": "#d3b88c",
    "grey": "#a7a7a0",
    "black": "#33332f",
    "": "#ffffff",
}
"""Fills by the words of ``stages.csv``; what is not told is left white."""

Place = tuple[float, float]

SEGMENTS = 10
EGGS = {"round": (13.0, 13.0), "upright": (10.0, 17.0), "flat": (17.0, 9.0), "cluster": (6.0, 6.0)}
"""Half widths and heights of eggs."""

PUPA = "M50 14C60 18 66 30 62 44C58 58 54 66 50 70C46 66 42 58 38 44C34 30 40 18 50 14Z"

FORE = {
    "tailed": "M50 38C58 22 76 8 94 12C92 24 80 40 52 42Z",
    "rounded": "M50 38C58 20 78 10 93 16C94 30 78 42 52 42Z",
    "small": "M50 38C58 24 74 16 86 20C86 32 72 42 52 42Z",
    "skipper": "M50 38C58 26 78 16 90 18C84 32 68 42 52 41Z",
    "narrow": "M50 36C62 24 84 14 97 14C90 28 70 40 52 41Z",
    "moth": "M50 34C60 18 80 14 95 24C90 38 72 46 52 42Z",
}
HIND = {
    "tailed": "M52 42C66 42 82 46 80 56C78 62 76 62 76 72C72 72 71 66 68 64C60 62 54 54 51 44Z",
    "rounded": "M52 42C68 40 84 46 80 58C74 68 58 64 51 45Z",
    "small": "M52 42C66 42 76 46 74 56C70 64 58 60 51 45Z",
    "skipper": "M52 41C64 42 74 46 72 54C66 60 56 56 51 44Z",
    "narrow": "M52 41C62 42 72 44 72 51C66 56 56 52 51 44Z",
    "moth": "M52 42C68 44 82 50 78 62C68 70 56 62 51 46Z",
}
"""Right wings of an adult seen from above, by the shape of the table; the left ones mirror them."""

FORE_MIDDLE, HIND_MIDDLE = (73.0, 27.0), (66.0, 53.0)


def figure(stage: str, look: Mapping[str, str], name: str) -> str:
    """Return a stage as a whole SVG document.

    Parameters
    ----------
    stage
        egg, larva, pupa or adult.
    look
        shape, color, marks and mark_color, as ``knowledge.looks.stage_drawings`` has them.
    name
        Told to who does not see it; also keeps the parts of several figures on one page apart.

    Examples
    --------
    >>> svg = figure("egg", {"shape": "round", "color": "green"}, "egg of the monarch")
    >>> svg.startswith("<svg") and 'fill="#93b566"' in svg
    True
    """
    draw = {"egg": _egg, "larva": _larva, "pupa": _pupa, "adult": _adult}[stage]
    fill, mark = COLORS[look.get("color", "")], COLORS[look.get("mark_color", "")]
    marks = look.get("marks", "none") if look.get("mark_color") else "none"
    inside = draw(look.get("shape", ""), fill, marks, mark)
    told = "".join(letter for letter in name if letter.isalnum() or letter in " -'")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" role="img" aria-label="{told}">'
        f'<g stroke="{INK}" stroke-width="1" stroke-linejoin="round" stroke-linecap="round">{inside}</g>'
        "</svg>"
    )


def _circle(at: Place, r: float, fill: str, line: str = "") -> str:
    return f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{r:.1f}" fill="{fill}"{line}/>'


def _line(path: str, *, color: str = INK, wide: float = 1.0) -> str:
    return f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{wide}"/>'


def _egg(shape: str, fill: str, _marks: str, _mark: str) -> str:
    wide, high = EGGS.get(shape, EGGS["round"])
    leaf = (
        f'<path d="M6 66C30 52 70 52 94 66C70 78 30 78 6 66Z" fill="{LEAF}"/><path d="M6 66H94" fill="none"/>'
    )
    spots = [(50.0, 62.0 - high)]
    if shape == "cluster":
        spots = [(32.0 + 12 * k, 58.0 - 10 * row) for row in (0, 1) for k in range(4 - row)]
        spots = [(x + 6.0 * (y < 50), y) for x, y in spots]
    out = [leaf]
    for x, y in spots:
        out.append(f'<ellipse cx="{x}" cy="{y}" rx="{wide}" ry="{high}" fill="{fill}"/>')
        if shape == "upright":
            out += [
                _line(f"M{x + k} {y - high * 0.9}Q{x + 2 * k} {y} {x + k} {y + high * 0.9}")
                for k in (-4, 0, 4)
            ]
    return "".join(out)


def _spine(shape: str) -> list[Place]:
    """Return the middles of a caterpillar's segments, tail first."""
    out = []
    for k in range(SEGMENTS):
        x = 16.0 + 7.0 * k
        rise = 22.0 * math.sin(math.pi * k / (SEGMENTS - 1)) if shape == "looper" else 2.0 * math.sin(1.3 * k)
        out.append((x, 52.0 - rise))
    return out


def _larva(shape: str, fill: str, marks: str, mark: str) -> str:
    slug = shape == "slug"
    spots, r = _spine(shape), {"slug": 11.0, "looper": 4.5}.get(shape, 8.0)
    sizes = [r * (0.75 if k in (0, SEGMENTS - 1) else 1.0) for k in range(SEGMENTS)]
    out = [_line("M4 64H96", color=LEAF, wide=4.0)]
    if shape in ("spiny", "hairy"):
        reach, angles = (1.75, (-60, -90, -120)) if shape == "spiny" else (1.5, range(-150, -20, 16))
        wide = 1.4 if shape == "spiny" else 0.6
        for (x, y), size in zip(spots, sizes, strict=True):
            turns = [(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in angles]
            ends = [(x + size * reach * dx, y + size * reach * dy) for dx, dy in turns]
            out += [_line(f"M{x:.1f} {y:.1f}L{ex:.1f} {ey:.1f}", wide=wide) for ex, ey in ends]
    elif shape != "looper":
        out += [
            _line(f"M{x:.1f} {y + size * 0.7:.1f}V63")
            for (x, y), size in zip(spots[2:-2], sizes[2:-2], strict=True)
        ]
    for k, (at, size) in enumerate(zip(spots, sizes, strict=True)):
        banded = (marks == "bands" and k % 2) or (marks == "patches" and k in (4, 5))
        out.append(_circle(at, size, mark if banded else fill, ' stroke-width=".6"' if slug else ""))
    if marks == "stripes":
        path = "M" + "L".join(f"{x:.1f} {y - r * 0.15:.1f}" for x, y in spots)
        out.append(_line(path, color=mark, wide=2.4))
    if marks == "spots":
        out += [_circle(at, 2.2, mark, ' stroke-width=".5"') for at in spots[1:-1]]
    if marks == "eyespots":
        out += [
            _circle((spots[-3][0], spots[-3][1] - 2), 4.0, mark),
            _circle((spots[-3][0] + 1, spots[-3][1] - 2), 1.6, INK),
        ]
    return "".join([*out, *_ends(shape, spots, r), _head(spots[-1], r)])


def _head(at: Place, r: float) -> str:
    return _circle((at[0] + r * 0.7, at[1]), r * 0.62, "#5b4636") + _circle(
        (at[0] + r * 0.95, at[1] - 1.5), 0.9, "#ffffff"
    )


def _ends(shape: str, spots: list[Place], r: float) -> list[str]:
    """Return what stands off a caterpillar at its ends."""
    (tx, ty), (hx, hy) = spots[0], spots[-1]
    if shape == "horned":
        return [_line(f"M{tx} {ty - r * 0.6}Q{tx - 4} {ty - 14} {tx - 10} {ty - 16}", wide=2.0)]
    if shape == "tailed":
        return [_line(f"M{tx - r * 0.7} {ty + d}L{tx - 13} {ty + 2.5 * d}", wide=1.8) for d in (-2, 2)]
    if shape == "feelers":
        tail = [
            _line(f"M{tx + d} {ty - 5}Q{tx - 5 + d} {ty - 14} {tx - 9 + d} {ty - 16}", wide=1.6)
            for d in (0, 4)
        ]
        return tail + [
            _line(f"M{hx + d} {hy - 5}Q{hx + 4 + d} {hy - 16} {hx + 10 + d} {hy - 18}", wide=1.6)
            for d in (-4, 0)
        ]
    return []


def _pupa(shape: str, fill: str, marks: str, mark: str) -> str:
    if shape == "cocoon":
        turns = [
            (18 + 8 * k, 40 + k % 3, 36 + 6 * k, 60 - 8 * (k % 3), 58 + 3 * k, 38 + 4 * (k % 4))
            for k in range(7)
        ]
        wraps = "".join(_line(f"M{a} {b}Q{c} {d} {e} {f}", wide=0.6) for a, b, c, d, e, f in turns)
        return (
            _line("M6 62H94", color=LEAF, wide=4.0)
            + f'<ellipse cx="50" cy="44" rx="32" ry="15" fill="{fill}"/>'
            + wraps
        )
    turn = {"hanging": "", "girdled": ' transform="rotate(-155 50 42)"'}.get(
        shape, ' transform="rotate(90 50 42)"'
    )
    body = f'<path d="{PUPA}" fill="{fill}"/>'
    lines = "".join(
        _line(f"M{44 - 0.4 * k} {60 - 6 * k}Q50 {63 - 6 * k} {56 + 0.4 * k} {60 - 6 * k}", wide=0.7)
        for k in range(3)
    )
    dots = [(44, 26), (50, 22), (56, 26), (42, 36), (58, 36), (50, 40)]
    if marks in ("spots", "patches", "eyespots"):
        lines += "".join(
            _circle(at, 1.6 if marks == "spots" else 3.0, mark, ' stroke-width=".4"') for at in dots
        )
    if marks in ("stripes", "bands"):
        lines += _line("M42 22C38 34 42 50 49 64", color=mark, wide=2.0)
    around = {
        "hanging": _line("M20 8H80", wide=3.0, color="#7a5a3c") + _line("M50 8V16"),
        "girdled": _line("M70 6V76", wide=3.0, color="#7a5a3c"),
    }.get(shape, _line("M6 62H94", color=LEAF, wide=4.0))
    girdle = _line("M70 26Q42 34 70 46", wide=0.8) if shape == "girdled" else ""
    return f"{around}<g{turn}>{body}{lines}</g>{girdle}"


def _adult(shape: str, fill: str, marks: str, mark: str) -> str:
    shape = shape if shape in FORE else "rounded"
    half = "".join(_wing(HIND[shape], HIND_MIDDLE, fill, marks, mark, fore=False))
    half += "".join(_wing(FORE[shape], FORE_MIDDLE, fill, marks, mark, fore=True))
    thick = {"moth": 4.4, "narrow": 4.4, "skipper": 4.0}.get(shape, 2.8)
    body = f'<ellipse cx="50" cy="44" rx="{thick}" ry="15" fill="#4a4038"/>' + _circle(
        (50, 27), thick * 0.85, "#4a4038"
    )
    club = "" if shape in ("moth", "narrow") else _circle((62, 10), 1.3, INK)
    feeler = _line("M51 25Q55 14 62 10") + club
    mirrored = f'<g transform="matrix(-1 0 0 1 100 0)">{half}{feeler}</g>'
    return f"<g>{half}{feeler}</g>{mirrored}{body}"


def _shrunk(path: str, at: Place, scale: float, fill: str) -> str:
    """Return a wing drawn smaller about a point, without a line."""
    move = f"translate({at[0] * (1 - scale):.1f} {at[1] * (1 - scale):.1f}) scale({scale})"
    return f'<path d="{path}" transform="{move}" fill="{fill}" stroke="none"/>'


def _wing(path: str, middle: Place, fill: str, marks: str, mark: str, *, fore: bool) -> list[str]:
    """Return a right wing with its marks; those lie well inside, so that none runs over its edge."""
    x, y = middle
    wing = f'<path d="{path}" fill="{mark if marks in ("border", "veins") else fill}"/>'
    inner = _shrunk(path, (x - 6, y + 2), 0.74, fill) if marks in ("border", "veins") else ""
    reach = (
        [(x + 11, y - 6), (x + 8, y + 1), (x + 2, y + 6)]
        if fore
        else [(x + 8, y - 3), (x + 5, y + 2), (x, y + 3)]
    )
    out = [wing, inner]
    if marks == "veins":
        out += [
            _line(f"M{54 if fore else 55} {40 if fore else 46}L{ex:.0f} {ey:.0f}", color=mark, wide=1.3)
            for ex, ey in reach
        ]
    elif marks in ("stripes", "lines"):
        wide = 2.6 if marks == "stripes" else 0.9
        ends = [(x - 8 + 7 * k, y - 5 - 1.5 * k, x - 5 + 6 * k, y + 8 - 3 * k) for k in range(3)]
        out += [_line(f"M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}", color=mark, wide=wide) for a, b, c, d in ends]
    elif marks == "bands":
        out.append(
            _line(
                f"M{x + 3} {y - 7}Q{x + 6} {y} {x} {y + 8}"
                if fore
                else f"M{x + 5} {y - 6}Q{x + 4} {y + 3} {x - 4} {y + 5}",
                color=mark,
                wide=4.5,
            )
        )
    elif marks in ("spots", "checks"):
        near = [(px - 9, py + (2 if fore else -2)) for px, py in reach]
        out += [
            _circle(at, 2.0 if marks == "spots" else 2.6, mark, ' stroke="none"') for at in [*reach, *near]
        ]
    elif marks == "eyespots":
        out += [_circle((x + 4, y), 4.2, mark) + _circle((x + 4, y), 1.7, INK)]
    elif marks == "patches":
        out.append(_circle((x + 1, y), 6.5 if fore else 5.5, mark, ' stroke="none"'))
    elif marks == "tips" and fore:
        out.append(_shrunk(path, (x + 17, y - 10), 0.42, mark))
    return out
