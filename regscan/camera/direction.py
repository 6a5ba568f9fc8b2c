"""DirectionCheck: the one-time proof that a camera file has the right sides, by a known step."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DirectionCheck:
    """One colour was moved by a known step and seen to move so.

    moved   change of the offset that the step stands for: advancing by 0.1 mm is
            -0.1 circumferential, moving toward the drive side +0.1 lateral. None: not moved
            on that axis, so its direction is not proven.
    seen    change that was measured, with one standard deviation.
    """

    ink: str
    circumferential_moved_mm: float | None = None
    circumferential_seen_mm: float | None = None
    circumferential_sd_mm: float | None = None
    lateral_moved_mm: float | None = None
    lateral_seen_mm: float | None = None
    lateral_sd_mm: float | None = None

    @property
    def unproven(self) -> tuple[str, ...]:
        """The axes whose direction was not checked."""
        moved = {
            "circumferential": self.circumferential_moved_mm,
            "lateral": self.lateral_moved_mm,
        }
        return tuple(axis for axis, by in moved.items() if by is None)
