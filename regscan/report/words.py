"""Offsets and places in words, with the contract's signs: people read words, not signs."""

from regscan.drift.words import doubted
from regscan.job.job import Axis

# Below this an offset shows as 0.000 mm, and a word would claim a side it does not have.
ON_PLACE_MM = 0.0005
ON_PLACE = "on place"
MINUS = "\N{MINUS SIGN}"

_SIDES: dict[Axis, tuple[str, str]] = {
    "circumferential": ("late", "early"),
    "lateral": ("to drive side", "to operator side"),
}


def side(axis: Axis, offset_mm: float) -> str:
    """late, early, to drive side, to operator side; "on place" for 0.000 mm."""
    if abs(offset_mm) < ON_PLACE_MM:
        return ON_PLACE
    return _SIDES[axis][0 if offset_mm > 0 else 1]


def offset_words(axis: Axis, offset_mm: float, sd_mm: float | None = None) -> str:
    """Such as "0.062 ±0.004 mm late"; the number carries no sign, the word does."""
    where = side(axis, offset_mm)
    size = doubted(abs(offset_mm), sd_mm)
    if where == ON_PLACE:
        return where if sd_mm is None else f"{where}, {size}"
    return f"{size} {where}"


def signed(value: float, decimals: int = 3) -> str:
    """+0.062 or −0.062, with a real minus sign; 0.000 carries none."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return ("+" if value > 0 else MINUS) + text


def plain(value: float, decimals: int = 0) -> str:
    """A length of web, a speed or a count, without a plus sign."""
    return signed(value, decimals).removeprefix("+")


def count(number: int, thing: str, things: str = "") -> str:
    """1 frame, 2 frames; `things` where adding an s does not make the plural."""
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def listed(items: list[str]) -> str:
    """a, b and c."""
    return " and ".join(part for part in (", ".join(items[:-1]), *items[-1:]) if part)


def camera_words(camera: str, edge: str) -> str:
    """How a camera (and web edge) is named in the report; "" where there is only one."""
    parts = [f"camera {camera}" if camera else "", f"{edge} edge" if edge else ""]
    return ", ".join(part for part in parts if part)
