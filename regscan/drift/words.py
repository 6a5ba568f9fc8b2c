"""Signs as words: late and early, toward the drive side and toward the operator side."""

from regscan.job.job import Axis

_SIDES: dict[Axis, tuple[str, str]] = {
    "circumferential": ("late", "early"),
    "lateral": ("toward the drive side", "toward the operator side"),
}


def side_of(axis: Axis, offset_mm: float) -> str:
    """The word for an offset's sign: + is late, + is toward the drive side."""
    late, early = _SIDES[axis]
    return late if offset_mm >= 0 else early


def doubted(size_mm: float, sd_mm: float | None) -> str:
    """A length with one standard deviation, where that is known: "0.112 ±0.004 mm"."""
    if sd_mm is None:
        return f"{size_mm:.3f} mm"
    return f"{size_mm:.3f} ±{sd_mm:.{doubt_decimals(sd_mm)}f} mm"


def doubt_decimals(sd_mm: float) -> int:
    """Decimals that a doubt in mm is written with: never so few that it reads as none."""
    return 3 if sd_mm >= 0.0005 else 4


def lies(axis: Axis, offset_mm: float, sd_mm: float | None = None) -> str:
    """An offset in words: "0.112 ±0.004 mm late", "0.050 mm toward the operator side"."""
    return f"{doubted(abs(offset_mm), sd_mm)} {side_of(axis, offset_mm)}"


def at_speed(speed_m_min: float | None) -> str:
    """ " at 50 m/min", or nothing where the speed is not known."""
    return "" if speed_m_min is None else f" at {speed_m_min:.0f} m/min"


def counted(number: int, thing: str) -> str:
    """ "1 stretch", "3 stretches", "2 frames"."""
    if number == 1:
        return f"1 {thing}"
    return f"{number} {thing}es" if thing.endswith("ch") else f"{number} {thing}s"
