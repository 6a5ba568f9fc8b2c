"""A printed sheet as a PDF page: marks at exact places, one separation per ink.

Written here from the words of docs/conventions.md and the measures of a mark alone, so
that what is drawn owes nothing to the simulator or to the measurer. The page is plain PDF
1.4: paths filled in separation colour spaces with overprint on, so that every ink keeps
its own plate where two inks meet.

Page places are (down, right) in mm from the page's top left corner.
"""

import math
from dataclasses import dataclass

from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    Polygon,
    Ring,
    Shape,
    Square,
    Triangle,
)

POINTS_PER_MM = 72.0 / 25.4
Point = tuple[float, float]

# Where each direction of the image points on the page: (down, right).
_TOWARD = {"up": (-1, 0), "down": (1, 0), "left": (0, -1), "right": (0, 1)}


@dataclass(frozen=True)
class Lie:
    """How the web lies on the page: where it travels to, and where the drive side is.

    turn_deg turns both clockwise, as a camera turned the other way would see them.
    """

    web_travel: str = "up"
    drive_side: str = "right"
    turn_deg: float = 0.0

    def on_page(self, circumferential: float, lateral: float) -> Point:
        """(down, right) of a step on the web; late lies against the travel."""
        travel, drive = _TOWARD[self.web_travel], _TOWARD[self.drive_side]
        down = -travel[0] * circumferential + drive[0] * lateral
        right = -travel[1] * circumferential + drive[1] * lateral
        cos, sin = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return down * cos + right * sin, right * cos - down * sin


@dataclass(frozen=True)
class Printed:
    """One mark as it stands on the page."""

    ink: str
    shape: Shape
    down_mm: float
    right_mm: float


@dataclass(frozen=True)
class Page:
    """A page and all that is printed on it, in print order."""

    height_mm: float
    width_mm: float
    printed: tuple[Printed, ...]
    lie: Lie = Lie()

    @property
    def inks(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(p.ink for p in self.printed))


def _circle(radius: float, pieces: int = 16) -> list[Point]:
    """Closed Bezier path of a circle: start point, then three points per piece."""
    step = 2 * math.pi / pieces
    reach = radius * 4.0 / 3.0 * math.tan(step / 4.0)
    path = [(radius, 0.0)]
    for k in range(pieces):
        a, b = k * step, (k + 1) * step
        path += [
            (
                radius * math.cos(a) - reach * math.sin(a),
                radius * math.sin(a) + reach * math.cos(a),
            ),
            (
                radius * math.cos(b) + reach * math.sin(b),
                radius * math.sin(b) - reach * math.cos(b),
            ),
            (radius * math.cos(b), radius * math.sin(b)),
        ]
    return path


def _corners(shape: Shape) -> list[Point]:
    """Corners of a straight-sided shape before turning, (circumferential, lateral) mm."""
    match shape:
        case Square(side_mm=a):
            h = a / 2
            return [(-h, -h), (-h, h), (h, h), (h, -h)]
        case Bar(length_mm=length, width_mm=width):
            c, r = width / 2, length / 2
            return [(-c, -r), (-c, r), (c, r), (c, -r)]
        case Diamond(circumferential_mm=c, lateral_mm=r):
            return [(c / 2, 0), (0, r / 2), (-c / 2, 0), (0, -r / 2)]
        case Triangle(side_mm=a):
            r = a / math.sqrt(3)
            return [(r * math.cos(t), r * math.sin(t)) for t in (0, math.tau / 3, -math.tau / 3)]
        case Cross(size_mm=size, stroke_mm=stroke):
            a, b = size / 2, stroke / 2
            arm = [(a, -b), (a, b), (b, b), (b, a), (-b, a), (-b, b)]
            return arm + [(-c, -r) for c, r in arm]
        case Polygon(points_mm=points):
            return list(points)
    raise TypeError(shape)


def _turned(points: list[Point], turn_deg: float) -> list[Point]:
    """Turned from + circumferential toward + lateral."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return [(c * cos - r * sin, c * sin + r * cos) for c, r in points]


def _curved(path: list[str]) -> str:
    pieces = (" ".join(path[k : k + 3]) + " c" for k in range(1, len(path), 3))
    return "\n".join([f"{path[0]} m", *pieces, "h"])


def _straight(path: list[str]) -> str:
    return "\n".join([f"{path[0]} m", *(f"{p} l" for p in path[1:]), "h"])


def separation(ink: str) -> str:
    """The ink's plate by name; PDF writes the process colours with a capital."""
    return ink.capitalize()


def _operators(page: Page, mark: Printed) -> str:
    """PDF path of one mark, filled by the even-odd rule so that a ring stays open."""

    def placed(points: list[Point]) -> list[str]:
        texts = []
        for c, r in points:
            down, right = page.lie.on_page(c, r)
            x = (mark.right_mm + right) * POINTS_PER_MM
            y = (page.height_mm - mark.down_mm - down) * POINTS_PER_MM
            texts.append(f"{x:.7f} {y:.7f}")
        return texts

    match mark.shape:
        case Disc(diameter_mm=d):
            path = _curved(placed(_circle(d / 2)))
        case Ring(diameter_mm=d, inner_diameter_mm=inner):
            path = "\n".join(_curved(placed(_circle(size / 2))) for size in (d, inner))
        case straight:
            path = _straight(placed(_turned(_corners(straight), straight.turn_deg)))
    return f"/{separation(mark.ink)} cs 1 scn\n{path}\nf*"


def pdf_of(page: Page, inks: tuple[str, ...] | None = None) -> bytes:
    """The page as PDF; with `inks`, only what those inks print."""
    shown = page.inks if inks is None else inks
    body = ["/over gs", *(_operators(page, p) for p in page.printed if p.ink in shown)]
    stream = "\n".join(body).encode("ascii")
    spaces = " ".join(
        f"/{separation(ink)} [/Separation /{separation(ink)} /DeviceGray"
        " << /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0] /N 1 >>]"
        for ink in page.inks
    )
    box = f"[0 0 {page.width_mm * POINTS_PER_MM:.7f} {page.height_mm * POINTS_PER_MM:.7f}]"
    return _file(
        [
            b"<< /Type /Catalog /Pages 2 0 R >>",
            b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            (
                f"<< /Type /Page /Parent 2 0 R /MediaBox {box} /Contents 4 0 R /Resources <<"
                f" /ColorSpace << {spaces} >>"
                " /ExtGState << /over << /OP true /op true /OPM 1 >> >> >> >>"
            ).encode("ascii"),
            b"<< /Length %d >>\nstream\n%b\nendstream" % (len(stream), stream),
        ]
    )


def _file(objects: list[bytes]) -> bytes:
    """Objects numbered from 1, with the cross-reference table a PDF file needs."""
    out, places = b"%PDF-1.4\n", []
    for number, text in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n%b\nendobj\n" % (number, text)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    head = b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    tail = b"trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n"
    return out + head + table + tail % (len(objects) + 1, len(out))
