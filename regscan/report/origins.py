"""Where every number comes from, and what a reader must keep in mind."""

from typing import Any

from regscan.camera.camera import Camera
from regscan.job.job import AXES
from regscan.run import Run

# Said in every report. Section 10 of the check values and the trade notes give the reasons.
STANDING = (
    "This page gives advice and moves nothing. Before checking a plate, a gear or a bearing: stop,"
    " isolate, then check. The machine maker's instructions, the rules of the house and trained"
    " people come first.",
    "Under a strobe light turning rolls can look still.",
    "After a move, judge again only when its print has reached the camera: the web path between"
    " station and camera, and up to three more span lengths where the cylinder pulls the web.",
    "Levels hold for the speed they were measured at; a setting found at low speed is not"
    " promised at running speed.",
    "One mark per colour and repeat shows nothing of what repeats with every cylinder turn, such"
    " as run-out of a plate cylinder: it hides in the constant part of the offset.",
)

METHOD = (
    ("Place of a mark", "least-squares fit of the blurred mark shape with its local background;"
     " its doubt comes from the pixels of that very mark", "marks.csv"),
    ("Offset", "place of the colour's mark minus the place it should have, both against the"
     " reference colour of the same frame; doubts of both are added", "offsets.csv"),
    ("Settled level", "robust mean of the usable frames of the last hold, or of all frames where"
     " there is no ramp; its doubt counts how alike neighbouring frames are", "run.json"),
    ("Stretch outside tolerance", "from between the last frame inside and the first outside to"
     " between the last outside and the first inside again", "run.json"),
    ("Move", "minus the settled level, in whole steps of the station; nothing where the level is"
     " smaller than a move is worth", "corrections.csv"),
    ("Verdict", "each settled level against its tolerance, with its doubt; web outside on the way",
     "gate.xml"),
)  # fmt: skip


def caution_facts(run: Run) -> list[str]:
    """What reduced this run's answer first, then what is always true."""
    found = list(dict.fromkeys((*run.drift.notes, *run.inputs.notes)))
    return [*(note[:1].upper() + note[1:].rstrip(".") + "." for note in found), *STANDING]


def origin_facts(run: Run) -> dict[str, Any]:
    """Inputs, versions, method."""
    job = run.job
    return {
        "method": [{"what": a, "how": b, "file": c} for a, b, c in METHOD],
        "rule": run.verdict.rule,
        "inputs": {
            "frames_folder": run.inputs.frames_folder,
            "frames_found": run.inputs.frames_found,
            "frames_used": run.inputs.frames_used,
            "clock": run.inputs.clock,
            "job_file": job.path,
        },
        "press": {
            "name": job.press.name,
            "repeat_mm": job.press.repeat_mm,
            "web_width_mm": job.press.web_width_mm,
        },
        "tolerances": _tolerances(run),
        "cameras": [_camera(camera) for camera in run.cameras],
        "version": run.inputs.regscan_version,
        "made_at": run.inputs.made_at,
        "format": run.format,
    }


def _tolerances(run: Run) -> list[dict[str, Any]]:
    named = {"all colours": run.job.tolerance, **run.job.ink_tolerances}
    return [
        {
            "ink": ink,
            "circumferential_mm": tolerance.circumferential_mm,
            "lateral_mm": tolerance.lateral_mm,
            "source": tolerance.source,
        }
        for ink, tolerance in named.items()
    ]


def _camera(camera: Camera) -> dict[str, Any]:
    return {
        "name": camera.name,
        "row_mm_per_px": camera.row_mm_per_px,
        "col_mm_per_px": camera.col_mm_per_px,
        "web_travel": camera.web_travel,
        "drive_side": camera.drive_side,
        "rotation_deg": camera.rotation_deg,
        "tone": camera.tone,
        "mosaic": camera.mosaic,
        "calibration": _calibration(camera),
        "direction": _direction(camera),
    }


def _calibration(camera: Camera) -> str:
    """How well the camera's own numbers are known, in words."""
    if camera.lens is None:
        return "not calibrated on a grid: its own error is in no doubt given here"
    doubt = camera.lens.doubt
    return (
        f"calibrated on a grid: scale within {doubt.circumferential_scale_ppm:.0f} ppm"
        f" circumferential and {doubt.lateral_scale_ppm:.0f} ppm lateral, rotation within"
        f" {doubt.rotation_deg:.4f} degrees, one standard deviation each"
    )


def _direction(camera: Camera) -> str:
    """What of its directions was proven by a known step, in words."""
    unproven = camera.direction.unproven if camera.direction else AXES
    proven = [axis for axis in AXES if axis not in unproven]
    if camera.direction is None or not proven:
        return "direction never checked with a known step"
    return f"direction proven by a known step of {camera.direction.ink}, {' and '.join(proven)}"
