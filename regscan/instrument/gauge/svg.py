"""A few SVG elements with their text escaped; lengths are drawing units."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

INK, SOFT, RULE, FAINT = "#17222c", "#55636f", "#c3ccd3", "#eef2f5"
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn; dash as SVG has it, "" for a whole line."""

    colour: str = INK
    width: float = 1.0
    dash: str = ""

    def __str__(self) -> str:
        broken = f' stroke-dasharray="{self.dash}"' if self.dash else ""
        return f'stroke="{self.colour}" stroke-width="{self.width:g}"{broken}'


@dataclass(frozen=True, slots=True)
class Letters:
    """How a word is written; anchor is start, middle or end."""

    size: float = 13.0
    anchor: str = "start"
    colour: str = INK
    bold: bool = False

    def __str__(self) -> str:
        weight = ' font-weight="600"' if self.bold else ""
        return f'font-size="{self.size:g}" text-anchor="{self.anchor}" fill="{self.colour}"{weight}'


@dataclass
class Svg:
    """A drawing that grows; text() gives the whole file."""

    width: float
    height: float
    parts: list[str] = field(default_factory=list)

    def line(self, start: Point, end: Point, stroke: "Stroke | None" = None) -> None:
        """A straight line."""
        way = f"M{start[0]:.1f} {start[1]:.1f}L{end[0]:.1f} {end[1]:.1f}"
        self.parts.append(f'<path d="{way}" fill="none" {stroke or Stroke()}/>')

    def box(self, corner: Point, size: Point, fill: str, stroke: str = "none") -> None:
        """A rectangle from its top left corner."""
        self.parts.append(
            f'<rect x="{corner[0]:.1f}" y="{corner[1]:.1f}" width="{max(size[0], 0.0):.1f}"'
            f' height="{size[1]:.1f}" fill="{fill}" stroke="{stroke}"/>'
        )

    def mark(self, at: Point, shape: int, size: float = 4.0) -> None:
        """One of a few open marks that are told apart without colour."""
        x, y, s = *at, size
        paths = (
            f"M{x - s:.1f} {y:.1f}a{s} {s} 0 1 0 {2 * s} 0a{s} {s} 0 1 0 {-2 * s} 0z",
            f"M{x - s:.1f} {y - s:.1f}l{2 * s} {2 * s}m0 {-2 * s}l{-2 * s} {2 * s}",
            f"M{x:.1f} {y - s:.1f}l{s} {2 * s}h{-2 * s}z",
            f"M{x - s:.1f} {y - s:.1f}h{2 * s}v{2 * s}h{-2 * s}z",
            f"M{x:.1f} {y - s:.1f}l{s} {s}l{-s} {s}l{-s} {-s}z",
            f"M{x - s:.1f} {y:.1f}h{2 * s}m{-s} {-s}v{2 * s}",
        )
        self.parts.append(
            f'<path d="{paths[shape % len(paths)]}" fill="none" stroke="{INK}" stroke-width="1.4"/>'
        )

    def words(self, at: Point, text: str, style: "Letters | None" = None) -> None:
        """One line of text."""
        self.parts.append(
            f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" {style or Letters()}>{escape(text)}</text>'
        )

    def text(self, title: str) -> str:
        """The file."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}"'
            f' width="{self.width:g}" height="{self.height:g}" role="img"'
            ' font-family="system-ui, Helvetica, Arial, sans-serif">'
        )
        paper = f'<rect width="{self.width:g}" height="{self.height:g}" fill="#ffffff"/>'
        return "\n".join([head, f"<title>{escape(title)}</title>", paper, *self.parts, "</svg>\n"])


def wrapped(text: str, letters: int) -> Sequence[str]:
    """Lines of about so many letters."""
    from textwrap import wrap

    return wrap(text, letters) or [""]
