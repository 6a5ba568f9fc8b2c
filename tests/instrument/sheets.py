"""Approved sheets drawn by the simulator, as recordings on disk, and jobs to teach from them."""

from dataclasses import replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.teach import Sheet, learn
from regscan.job.job import Colour, Station
from regscan.job.layout import Cross, MarkDesign
from regscan.recording.sources import open_recording
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Print, Sensor, Shot
from regscan.simulator.write import encode
from tests.marks.conftest import six_colours

CAMERA = Camera(0.012, 0.012)
QUIET = Look(sensor=Sensor(noise_grey=1.5))
ROUGH = Look(print=Print(roughness_um=4.0), sensor=Sensor(noise_grey=1.5))
EXPOSURE = QUIET.sensor.exposure
PROCESS = ("cyan", "magenta", "yellow", "black")
TURNS = (0.0, 45.0, 22.5, 67.5)
UNKNOWN = Colour("taught", None)


def untaught(job):
    """The same job with nothing known of any colour."""
    inks = tuple(replace(ink, colour=UNKNOWN) for ink in job.inks)
    return replace(job, substrate=UNKNOWN, inks=inks)


def crosses():
    """Four process inks, crosses of four turns at one place."""
    job = six_colours()
    marks = tuple(
        MarkDesign(ink, Cross(1.6, 0.24, turn), 0.0, 0.0)
        for ink, turn in zip(PROCESS, TURNS, strict=True)
    )
    stations = tuple(Station(k + 1, ink, float(k > 0)) for k, ink in enumerate(PROCESS))
    return replace(
        job,
        press=replace(job.press, stations=stations),
        inks=tuple(ink for ink in job.inks if ink.name in PROCESS),
        marks=marks,
    )


_DRAWN: dict[str, np.ndarray] = {}


def drawn(job, camera, offsets, look, seed):
    """The pixels of one frame; many tests look at the same ones, so they are kept."""
    key = repr((job, camera, offsets, look, seed))
    if key not in _DRAWN:
        frame, _ = draw_frame(job, camera, offsets, look, Shot(480, 640, seed=seed))
        _DRAWN[key] = frame.pixels
    return _DRAWN[key]


def write_frames(
    folder, job, *, frames=2, offsets=None, look=QUIET, camera=CAMERA, change=None, first=0
):
    """Draw frames into a folder; change alters the pixels of each (H x W x 3 uint8), first is
    the seed of the first one."""
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first, first + frames):
        pixels = drawn(job, camera, offsets or {}, look, seed)
        if change is not None:
            pixels = change(pixels)
        (folder / f"{seed}.png").write_bytes(encode(np.ascontiguousarray(pixels), "png"))


def taught(folder, job, *, told=None, camera=CAMERA, **drawn):
    """What is learnt from frames of `job` by somebody who was told `told` (the same job)."""
    write_frames(folder, job, camera=camera, **drawn)
    recording = open_recording([folder])
    return learn(Sheet(recording.sources, told or job, {"": camera}, str(folder)))
