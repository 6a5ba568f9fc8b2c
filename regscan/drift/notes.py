"""What reduced the answer, in words: nothing is left out without being said."""

import numpy as np

from regscan.drift.drift import Segment, Track
from regscan.drift.frames import Frames
from regscan.drift.words import counted
from regscan.job.job import Job


def find_notes(
    table: np.ndarray,
    frames: Frames,
    segments: tuple[Segment, ...],
    tracks: tuple[Track, ...],
    job: Job,
) -> tuple[str, ...]:
    """Sentences about what is not known of this run and what follows from that."""
    notes = [
        *frames.notes,
        *_speed_notes(segments),
        *_place_notes(frames),
        *_hold_notes(segments, tracks),
        *_job_notes(table, job),
    ]
    return tuple(notes)


def _speed_notes(segments: tuple[Segment, ...]) -> list[str]:
    phases = [s.phase for s in segments]
    unknown = sum(s.last_frame - s.first_frame + 1 for s in segments if s.phase == "unknown")
    if phases == ["unknown"]:
        return ["the speed is not known, so all frames are taken together as one stretch"]
    notes = []
    if unknown:
        count = counted(unknown, "frame")
        notes.append(f"the speed is not known for {count}: a gap in the log, which is not bridged")
    if phases == ["hold"]:
        notes.append("one speed only: how register follows speed cannot be told from this run")
    return notes


def _place_notes(frames: Frames) -> list[str]:
    known = np.isfinite(frames.web_m)
    if known.all():
        return []
    if not known.any():
        return ["web positions are not known, so no lengths of web are given"]
    lost = counted(int((~known).sum()), "frame")
    return [f"the web position is not known for {lost}, so lengths of web are not complete"]


def _hold_notes(segments: tuple[Segment, ...], tracks: tuple[Track, ...]) -> list[str]:
    """Holds from which some colour that was seen has no level."""
    notes = []
    for hold in (s for s in segments if s.phase == "hold"):
        without = {
            t.ink
            for t in tracks
            if t.frames_ok + t.frames_doubtful and hold.number not in {v.segment for v in t.levels}
        }
        if without:
            who = ", ".join(sorted(without))
            notes.append(
                f"the hold at {hold.end_speed_m_min:.0f} m/min (segment {hold.number}) gives no "
                f"level for {who}: no frame shows the colour and the reference both printed in it"
            )
    return notes


def _job_notes(table: np.ndarray, job: Job) -> list[str]:
    notes = [
        f"{ink} (station {job.station_of(ink).number}) leaves no visible mark: not measurable"
        for ink in job.unmeasurable_inks
    ]
    strangers = sorted(set(table["ink"].tolist()) - {ink.name for ink in job.inks})
    if strangers:
        notes.append(f"left out, since the job has no such ink: {', '.join(strangers)}")
    posts = {post.name for post in job.press.cameras}
    unknown = sorted(set(table["camera"].tolist()) - posts - {""})
    if unknown:
        names = ", ".join(unknown)
        notes.append(f"the job has no camera {names}; taken as one that sees every colour")
    return notes
