"""The few sentences that matter most, in the order in which they matter."""

from regscan.drift.drift import Stretch, Track, furthest_out
from regscan.job.job import AXES
from regscan.report.views import measured_tracks
from regscan.report.words import count, listed, offset_words, plain
from regscan.run import Run

WATCHED = 3  # stations, and moves, named in full; the rest are counted


def sentences(run: Run) -> list[str]:
    """What happened on the way, what to do, and how far to trust it; never empty."""
    return [*_flagged(run), _moves(run), *_why(run), *_trust(run)]


def _flagged(run: Run) -> list[str]:
    """The colours that were outside, furthest first, each by its worse axis; else all is well."""
    tracks = sorted((t for t in measured_tracks(run) if _worst_mm(t) is not None), key=_urgency)
    if not tracks:
        return _calm(run)
    by_ink = {track.ink: track for track in reversed(tracks)}
    first = sorted(by_ink.values(), key=_urgency)
    found = [_left(track) if track.stretches else _lies(track) for track in first[:WATCHED]]
    if len(first) > WATCHED:
        found.append(f"Also outside: {listed([track.ink for track in first[WATCHED:]])}.")
    return found


def _worst_mm(track: Track) -> float | None:
    """The furthest a colour is known to have been outside tolerance; None when it was not."""
    known = [stretch.worst_mm for stretch in track.stretches]
    if track.settled and abs(track.settled.mean_mm) > track.tolerance_mm:
        known.append(track.settled.mean_mm)
    return max(known, key=abs, default=None)


def _urgency(track: Track) -> float:
    return -abs(_worst_mm(track) or 0.0) / track.tolerance_mm


def _calm(run: Run) -> list[str]:
    if not any(track.settled for track in measured_tracks(run)):
        return ["No colour could be measured well enough to say where it prints."]
    if run.kind == "measure":
        return ["Every colour that could be measured lies within its tolerance."]
    return ["No station left its tolerance at any speed of this run."]


def _name(track: Track) -> str:
    return f"{track.ink[:1].upper()}{track.ink[1:]} (station {track.station}), {track.axis}"


def _lies(track: Track) -> str:
    assert track.settled is not None
    where = offset_words(track.axis, track.settled.mean_mm, track.settled.sd_mm)
    return f"{_name(track)}: {where}, {track.tolerance_mm:.3f} mm allowed."


def _left(track: Track) -> str:
    """Who left tolerance, how far, at which speed and for how many metres of web."""
    worst = furthest_out(track.stretches)
    furthest = offset_words(track.axis, worst.worst_mm, worst.worst_sd_mm)
    return (
        f"{_name(track)}: worst {furthest},"
        f" {track.tolerance_mm:.3f} mm allowed;"
        f" {_how_much(track, _when(worst))}."
    )


def _how_much(track: Track, when: str) -> str:
    length = count(track.frames_outside, "frame")
    if track.metres_outside is not None:
        length = f"{plain(track.metres_outside)} m of web"
    if len(track.stretches) == 1:
        return f"{length} outside{when}"
    worst = f", the worst{when}" if when else ""
    return f"{length} outside in {len(track.stretches)} stretches{worst}"


def _when(stretch: Stretch) -> str:
    left, back = stretch.left_at_speed_m_min, stretch.back_at_speed_m_min
    parts = []
    if stretch.from_m is not None and stretch.to_m is not None:
        parts.append(f"from {plain(stretch.from_m)} m to {plain(stretch.to_m)} m")
    if left is not None:
        parts.append(f"leaving at {plain(left)} m/min")
    if not stretch.returned:
        parts.append("not back by the end")
    elif back is not None:
        parts.append(f"back at {plain(back)} m/min")
    return " " + ", ".join(parts) if parts else ""


def _moves(run: Run) -> str:
    wanted = [c for c in run.corrections if c.ink != run.job.reference]
    moves = [f"{c.ink}: {c.words}" for c in wanted if c.move_mm]
    if len(moves) > WATCHED:
        stations = len({c.station for c in wanted if c.move_mm})
        text = f"{len(moves)} moves are proposed on {count(stations, 'station')}."
    elif moves:
        text = f"Proposed {'move' if len(moves) == 1 else 'moves'}: {'; '.join(moves)}."
    elif any(c.move_mm is None for c in wanted) or not wanted:
        text = "No move can be proposed for what was not measured."
    else:
        text = "No move is proposed: every settled offset is smaller than a move is worth."
    return f"{text} {_not_by_a_move(run)}".strip()


def _not_by_a_move(run: Run) -> str:
    """Colours that go out on the way although they settle inside: no fixed setting cures that."""
    still = {(c.station, c.axis) for c in run.corrections if c.move_mm == 0}
    inks = dict.fromkeys(
        track.ink
        for track in measured_tracks(run)
        if track.stretches and (track.station, track.axis) in still
    )
    if not inks:
        return ""
    return f"No fixed setting cures {listed(list(inks))}: settled inside, outside on the way."


def _why(run: Run) -> list[str]:
    """The likely causes of the largest movements, each with the one that could be it instead."""
    found = []
    for cause in run.drift.causes[:WATCHED]:
        at = f" at station {cause.station} ({cause.ink})" if cause.station else ""
        other = f"; else {cause.runner_up.title}" if cause.runner_up else ""
        found.append(f"Likely cause{at}: {cause.title}{other}. First check: {cause.first_check}")
    return found


def _trust(run: Run) -> list[str]:
    """What weakens the answer; nothing when all is well."""
    job, found = run.job, []
    lost = [
        f"{track.ink} ({_share(track)} of its frames)"
        for track in measured_tracks(run)
        if track.axis == AXES[0] and _unusable(track) > 0.05
    ]
    if lost:
        found.append(f"Weakly measured: {listed(lost)} doubtful or missing.")
    if run.inputs.skipped:
        skipped = count(len(run.inputs.skipped), "frame")
        found.append(f"{skipped} of {run.inputs.frames_found} could not be used.")
    for one in run.drift.disagreements:
        if one.significant:
            pair = " and ".join(filter(None, (one.camera, one.other_camera)))
            found.append(
                f"Cameras disagree: {pair} differ by {abs(one.difference_mm):.3f} mm"
                f" on {one.ink}, {one.axis}."
            )
    if job.unmeasurable_inks:
        found.append(f"Not measurable: {listed(list(job.unmeasurable_inks))}.")
    return found


def _unusable(track: Track) -> float:
    lost = track.frames_doubtful + track.frames_missing
    return lost / max(track.frames_ok + lost, 1)


def _share(track: Track) -> str:
    return f"{100 * _unusable(track):.0f} %"
