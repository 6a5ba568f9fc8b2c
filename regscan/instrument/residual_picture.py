"""residuals.svg: what the lens bends, what is left of it, and the same for red and blue.

Every panel is the frame, with an arrow at every node; how long an arrow of one hundredth
(or one, or five) of a pixel is drawn stands below the panel.
"""

import html
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.lens import Lens
from regscan.instrument.calibration import Calibration, FrameNodes, rms_length

WIDTH = 440.0  # of a panel, in drawing units
GAP = 36.0
HEAD = 30.0
FOOT = 40.0
LONGEST = 0.07  # of a panel's width: the 98th percentile of a panel's arrows
MOST_ARROWS = 1500

# Channels differ in dash and colour both, so that neither is needed to tell them apart.
INK = "#1b1b1b"
RED, BLUE = "#c02a1d", "#1d4fc0"
CHECK = "#7a4d00"


@dataclass(frozen=True)
class _Arrows:
    """places, vectors  N x 2 (row, col) px."""

    places: np.ndarray
    vectors: np.ndarray
    colour: str
    dash: str = ""


@dataclass(frozen=True)
class _Panel:
    title: str
    arrows: Sequence[_Arrows]


def residual_svg(calibration: Calibration) -> str:
    """The picture as SVG text."""
    lens = calibration.camera.lens
    assert lens is not None, "a calibration has a lens"
    panels = list(_panels(calibration, lens))
    high = WIDTH * lens.rows_px / lens.cols_px
    cell = high + HEAD + FOOT
    columns = 2
    rows = -(-len(panels) // columns)
    width = columns * WIDTH + (columns + 1) * GAP
    height = rows * cell + GAP
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}"'
        ' font-family="sans-serif" font-size="14">',
        '<rect width="100%" height="100%" fill="#ffffff"/>',
    ]
    for number, panel in enumerate(panels):
        left = GAP + (number % columns) * (WIDTH + GAP)
        top = GAP / 2.0 + (number // columns) * cell
        parts.append(f'<g transform="translate({left:.1f},{top:.1f})">')
        parts += _drawn(panel, lens, high)
        parts.append("</g>")
    return "\n".join([*parts, "</svg>"]) + "\n"


def _panels(calibration: Calibration, lens: Lens) -> Iterator[_Panel]:
    frames = calibration.of("fit")
    places = _joined(f.places[f.used] for f in frames)
    straight = np.stack(lens.straight(places[:, 0], places[:, 1]), axis=1)
    bent = places - straight
    title = f"What the lens bends: {rms_length(bent):.2f} px rms"
    yield _Panel(title, [_Arrows(places, bent, INK)])
    left = [_Arrows(places, _joined(f.residuals[f.used] for f in frames), INK)]
    title = f"What is left: {calibration.rms_px:.4f} px rms"
    for frame in calibration.of("check"):
        left.append(_Arrows(frame.places[frame.used], frame.residuals[frame.used], CHECK, "4 2"))
        title += f"; check (dashed): {frame.rms_px:.4f}"
    yield _Panel(title, left)
    if frames[0].red_left is not None or frames[0].blue_left is not None:
        yield _colours("Red and blue (dashed) against green", frames, ("red", "blue"))
        yield _colours("What is left of them", frames, ("red_left", "blue_left"))


def _colours(title: str, frames: Sequence[FrameNodes], names: tuple[str, str]) -> _Panel:
    arrows, words = [], []
    for name, colour, dash in zip(names, (RED, BLUE), ("", "4 2"), strict=True):
        found = [(f, getattr(f, name)) for f in frames if getattr(f, name) is not None]
        if found:
            known = [f.used & np.isfinite(v).all(axis=1) for f, v in found]
            places = _joined(f.places[k] for (f, _), k in zip(found, known, strict=True))
            vectors = _joined(v[k] for (_, v), k in zip(found, known, strict=True))
            arrows.append(_Arrows(places, vectors, colour, dash))
            words.append(f"{rms_length(vectors):.4f}")
    return _Panel(f"{title}: {' and '.join(words)} px rms", arrows)


def _joined(parts: Iterator[np.ndarray]) -> np.ndarray:
    return np.concatenate(list(parts))


def _drawn(panel: _Panel, lens: Lens, high: float) -> Iterator[str]:
    """One panel, its top left corner at the origin."""
    scale = WIDTH / lens.cols_px
    sizes = np.concatenate([np.linalg.norm(a.vectors, axis=1) for a in panel.arrows])
    largest = float(np.percentile(sizes, 98.0)) if sizes.size else 0.0
    step = _round_step(largest)
    longer = LONGEST * WIDTH / max(largest, 1e-9)
    yield f'<text x="0" y="20" font-weight="bold">{html.escape(panel.title)}</text>'
    yield f'<g transform="translate(0,{HEAD})">'
    yield (
        f'<rect width="{WIDTH:.1f}" height="{high:.1f}" fill="#f7f7f5" stroke="#888888"'
        ' stroke-width="1"/>'
    )
    # A stray's arrow ends at the panel's border instead of running over the words.
    yield f'<svg width="{WIDTH:.1f}" height="{high:.1f}">'
    for arrows in panel.arrows:
        dash = f' stroke-dasharray="{arrows.dash}"' if arrows.dash else ""
        path = " ".join(_arrow(p * scale, v * longer) for p, v in _thinned(arrows))
        yield f'<path d="{path}" fill="none" stroke="{arrows.colour}" stroke-width="1.1"{dash}/>'
    yield "</svg>"
    length = step * longer
    yield (
        f'<path d="{_arrow(np.array([high + 16.0, 2.0]), np.array([0.0, length]))}" fill="none"'
        f' stroke="{INK}" stroke-width="1.4"/>'
    )
    yield f'<text x="{length + 10.0:.1f}" y="{high + 21.0:.1f}">{step:g} px</text>'
    yield "</g>"


def _thinned(arrows: _Arrows) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    every = max(1, -(-len(arrows.places) // MOST_ARROWS))
    yield from zip(arrows.places[::every], arrows.vectors[::every], strict=True)


def _arrow(start: np.ndarray, by: np.ndarray) -> str:
    """Path of an arrow, (row, col) in drawing units: a line with a head a quarter as long."""
    end = start + by
    back, aside = 0.28 * by, 0.13 * np.array([-by[1], by[0]])
    points = [start, end, end - back + aside, end, end - back - aside]
    letters = "MLLML"
    return "".join(f"{c}{p[1]:.2f} {p[0]:.2f}" for c, p in zip(letters, points, strict=True))


def _round_step(largest: float) -> float:
    """A length of 1, 2 or 5 times a power of ten, at most the largest arrow."""
    if largest <= 0.0:
        return 1.0
    power = 10.0 ** np.floor(np.log10(largest))
    return float(max(k * power for k in (1.0, 2.0, 5.0) if k * power <= largest * 1.0001))
