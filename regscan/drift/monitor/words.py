"""What the monitor says, in sentences."""

from regscan.drift.alert import Forecast
from regscan.drift.words import side_of
from regscan.job.job import Axis


def toward(axis: Axis, move_mm: float) -> str:
    """ "later", "earlier", "toward the drive side"."""
    if axis == "circumferential":
        return "later" if move_mm >= 0 else "earlier"
    return side_of(axis, move_mm)


def shift_words(axis: Axis, moved_mm: float, since_m: float | None) -> str:
    """Since when a colour prints elsewhere, and by how much."""
    since = "" if since_m is None else f" since about {since_m:.0f} m"
    return f"has moved about {abs(moved_mm):.3f} mm {toward(axis, moved_mm)}{since}"


def warning_words(axis: Axis, forecast: Forecast, while_speed_changes: bool) -> str:
    """When a colour will leave tolerance if it goes on."""
    unit = "m" if forecast.unit == "m" else "frames"
    if forecast.high is None:
        between = f"{forecast.low:.0f} {unit} at the earliest"
    else:
        between = f"{forecast.low:.0f} to {forecast.high:.0f} {unit}"
    ahead = "within 1" if forecast.ahead < 1.0 else f"in about {forecast.ahead:.0f}"
    pace = ", while the speed changes" if while_speed_changes else ""
    way = toward(axis, forecast.rate_mm)
    return f"moves {way}{pace}: leaves tolerance {ahead} {unit} at this rate ({between})"


def of_station(station: int, ink: str, axis: Axis, camera: str, edge: str) -> str:
    """ "Station 4 cyan, circumferential", with the camera and web edge where there are any."""
    seen = " ".join(part for part in (camera, edge) if part)
    return f"Station {station} {ink}, {axis}" + (f" ({seen})" if seen else "")
