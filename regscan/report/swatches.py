"""What colour an ink is drawn in on the page: a help for the eye, never a measured colour."""

from regscan.job.job import Colour

NO_COLOUR = "#8a8a8a"

# CIE Lab is given under D50, a screen shows D65. The matrix is XYZ (D50) to linear sRGB
# with the Bradford adaptation in it; from memory, the check against known colours is in
# tests/report/test_swatches.py.
_XYZ_D50_TO_SRGB = (
    (3.1338561, -1.6168667, -0.4906146),
    (-0.9787684, 1.9161415, 0.0334540),
    (0.0719453, -0.2289914, 1.4052427),
)
_D50 = (0.9642, 1.0, 0.8249)


def swatch(colour: Colour | None) -> str:
    """#rrggbb for the screen; a grey where the job gives no colour."""
    if colour is None or colour.values is None:
        return NO_COLOUR
    if colour.space == "srgb":
        return _hex([value / 255.0 for value in colour.values])
    if colour.space == "taught":
        return _hex([_with_curve(value) for value in colour.values])
    return _hex([_with_curve(value) for value in _lab_to_light(colour.values)])


def _lab_to_light(lab: tuple[float, float, float]) -> list[float]:
    """Linear sRGB light, not yet limited to 0..1, of CIE Lab under D50."""
    lightness, a, b = lab
    y = (lightness + 16.0) / 116.0
    roots = (y + a / 500.0, y, y - b / 200.0)
    xyz = [white * _from_root(root) for white, root in zip(_D50, roots, strict=True)]
    return [sum(m * v for m, v in zip(row, xyz, strict=True)) for row in _XYZ_D50_TO_SRGB]


def _from_root(root: float) -> float:
    delta = 6.0 / 29.0
    return float(root**3) if root > delta else 3.0 * delta * delta * (root - 4.0 / 29.0)


def _with_curve(light: float) -> float:
    light = min(max(light, 0.0), 1.0)
    return 12.92 * light if light <= 0.0031308 else 1.055 * float(light ** (1 / 2.4)) - 0.055


def _hex(values: list[float]) -> str:
    return "#" + "".join(f"{round(255 * min(max(v, 0.0), 1.0)):02x}" for v in values)
