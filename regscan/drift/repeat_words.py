"""Plate or cylinder, and run-out, in words: what it is, or what would tell."""

from dataclasses import dataclass

from regscan.drift.across import Figure, Skewed
from regscan.drift.changes import is_significant

SHARE = 0.1
"""A turn counts from this share of the tolerance on, over the repeat or the web's width."""
COVERS_95 = 1.96
MORE_PLACES = "a second mark set some 200 mm further round the repeat would tell"


@dataclass(frozen=True, slots=True)
class Said:
    """What is known of one colour. Turns in mrad; None where not known.

    skew       of the two edges; rotation, shear   its parts.
    seam_mm    the first place on the plate where that is not the first on the web.
    """

    ink: str
    repeat_mm: float
    spacing_mm: float
    tolerance_mm: float
    places: int
    skew: Figure | None
    rotation: Figure | None
    shear: Figure | None
    seam_mm: float | None
    run_out: Figure | None
    late_at_mm: float | None
    run_out_found: bool

    def matters(self, turn: Figure | None) -> bool:
        """Whether a turn is more than its doubt can make and more than decides nothing."""
        if turn is None:
            return False
        reach_mm = abs(turn.value) / 1e3 * max(self.repeat_mm, self.spacing_mm)
        return is_significant(turn.value, turn.sd) and reach_mm > SHARE * self.tolerance_mm


def say(said: Said) -> tuple[Skewed, str]:
    """(answer, sentences) for one colour."""
    answer, words = _turned(said)
    return answer, " ".join(part for part in (words, _seam(said), _run_out(said)) if part)


def _turned(said: Said) -> tuple[Skewed, str]:
    if said.rotation is None:
        return _without_rotation(said)
    if said.skew is None:
        return _without_edges(said, said.rotation)
    turned, sheared = said.matters(said.rotation), said.matters(said.shear)
    plate = f"the plate is turned by {_mrad(said.rotation)}"
    across = f"a skew of {_mrad(said.shear)} stays the same all round the repeat"
    cause = "cylinder across the press, or strain that differs over the web"
    if turned and sheared:
        return "both", f"{plate}; besides, {across}: {cause}."
    if turned:
        return "plate", f"{plate}, which is its whole skew; the cylinder is not across the press."
    if sheared:
        return "cylinder", f"{across}: {cause}; the plate {_not_turned(said.rotation)}."
    if not said.matters(said.skew):
        return "neither", "neither a turned plate nor a cylinder across the press shows."
    what = f"its skew of {_mrad(said.skew)} may be either: the plate {_not_turned(said.rotation)}"
    return "cannot be told", f"{what}. More frames, or places further apart, would tell."


def _without_rotation(said: Said) -> tuple[Skewed, str]:
    if said.skew is not None and said.skew.sd is not None and not said.matters(said.skew):
        return "neither", "the edges show no skew: neither plate nor cylinder is turned."
    if said.places == 1:
        what = (
            f"its skew of {_mrad(said.skew)} may be a turned plate or a cylinder across the press"
        )
        return "cannot be told", f"{what}: {MORE_PLACES}."
    if said.places == 0:
        what = (
            "frames lie at no clear places round the repeat, or their web positions are not known"
        )
        return "cannot be told", f"{what}; frames at two or more fixed places would tell."
    what = "too few good frames at each place round the repeat, or one place after the other"
    return "cannot be told", f"{what}; more, by turns, would tell."


def _without_edges(said: Said, rotation: Figure) -> tuple[Skewed, str]:
    if said.matters(rotation):
        return "plate", f"the plate is turned by {_mrad(rotation)}."
    what = f"the plate {_not_turned(rotation)}; a cylinder across the press shows at both web edges"
    return "cannot be told", f"{what} only."


def _seam(said: Said) -> str:
    if said.seam_mm is None or not said.matters(said.rotation):
        return ""
    return f"Its plate seems to begin before the place at {said.seam_mm:.0f} mm."


def _run_out(said: Said) -> str:
    if said.places == 1:
        return "Run-out of its cylinder is invisible with one mark per repeat."
    if said.places == 2:
        return "Run-out of its cylinder takes three places round the repeat."
    if said.run_out is None or said.run_out.sd is None or said.late_at_mm is None:
        return ""
    if said.run_out_found:
        size = f"{said.run_out.value:.4f} ± {COVERS_95 * said.run_out.sd:.4f} mm"
        return f"Once per repeat it runs out by {size}, latest at {said.late_at_mm:.0f} mm."
    most = said.run_out.value + COVERS_95 * said.run_out.sd
    return f"No run-out shows; it is below {most:.4f} mm."


def _mrad(turn: Figure | None) -> str:
    """With its 95 % interval: "0.330 ± 0.020 mrad (drive side late)"."""
    if turn is None:
        return "an unknown angle"
    late = "drive" if turn.value >= 0 else "operator"
    doubt = "?" if turn.sd is None else f"{COVERS_95 * turn.sd:.3f}"
    return f"{abs(turn.value):.3f} ± {doubt} mrad ({late} side late)"


def _not_turned(turn: Figure) -> str:
    """By no more than the far end of the 95 % interval."""
    return f"is turned by {abs(turn.value) + COVERS_95 * (turn.sd or 0.0):.3f} mrad at most"
