"""Conversions between the few units regscan speaks.

Stored values are always mm, m, s and m/min (the unit is in every name); inch
and ft/min exist for display only. Nothing here imports anything.
"""

MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8
SECONDS_PER_MINUTE = 60.0


def m_per_s(speed_m_min: float) -> float:
    """Speed in m/s from m/min."""
    return speed_m_min / SECONDS_PER_MINUTE


def inch(length_mm: float) -> float:
    """Length in inch from mm, for display."""
    return length_mm / MM_PER_INCH


def ft_min(speed_m_min: float) -> float:
    """Speed in ft/min from m/min, for display."""
    return speed_m_min * 1000.0 / MM_PER_FOOT


def cylinder_deg(length_mm: float, repeat_mm: float) -> float:
    """Degrees of plate-cylinder turn that move the print by length_mm."""
    return 360.0 * length_mm / repeat_mm
