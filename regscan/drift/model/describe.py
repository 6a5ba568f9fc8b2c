"""The run model of a whole run: all channels of the camera that sees most."""

import numpy as np

from regscan.drift.behaviour import Behaviours
from regscan.drift.frames import Frames
from regscan.drift.model.aliases import aliases_of
from regscan.drift.model.channels import scenes_of
from regscan.drift.model.clocks import RunClock
from regscan.drift.model.explain import explain
from regscan.drift.model.field import course_of
from regscan.drift.model.findings import behaviours_of, finding_of, moved_of
from regscan.drift.model.matched import matched
from regscan.drift.model.reduced import FEWEST, reduced_of
from regscan.drift.model.untold import untold_of
from regscan.drift.model.views import view_of
from regscan.drift.record import Record
from regscan.job.job import Job


def describe_behaviour(
    table: np.ndarray, frames: Frames, record: Record | None, job: Job
) -> Behaviours:
    """Terms and findings, and what could not be told; without any where too little was seen."""
    scenes = scenes_of(table, frames, job)
    if not scenes:
        why = "no camera shows the reference together with another colour: nothing can be compared"
        return Behaviours("", (), (), (), (), (why,))
    scene = scenes[0]
    if len(scene) < FEWEST:
        why = f"too short a run: {len(scene)} frames, and no term is looked for under {FEWEST}"
        return Behaviours(scene.camera, scene.edges, (), (), (), (why,))
    known = matched(frames, record)
    clock = RunClock(frames, scene.place, known.record)
    course, view = course_of(scene, clock, job), view_of(scene, job)
    stations, findings = [], []
    for channel in scene.value_mm:
        explained = explain(course, channel, view)
        if explained is None:
            continue
        moved = moved_of(explained)
        stations += list(behaviours_of(explained, moved, channel, scene))
        findings += [finding_of(one, channel, scene) for one in moved]
    findings.sort(key=lambda f: -f.gain)
    return Behaviours(
        camera=scene.camera,
        edges=scene.edges,
        stations=tuple(stations),
        findings=tuple(findings),
        untold=untold_of(findings, clock, course.moments, job),
        reduced=(*known.said, *reduced_of(scene, clock, course.moments)),
        clock_shift_s=known.shift_s,
        aliases=tuple(aliases_of(findings, course.moments, job)),
    )
