"""The ideal fit reaches the bound, and says so; what it is told changes what it can do."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.families.case import Case
from bench.families.ideal import ideal_places
from bench.families.layouts import at_one_place
from bench.families.stock import job_of
from regscan.camera.camera import Camera
from regscan.job.layout import Disc, MarkDesign
from regscan.simulator.defects import Double, HalfPrint, Halftone, Slur
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Sensor, Shot
from regscan.simulator.printed import Scene

LINEAR = Camera(0.01, 0.01, tone="linear")
RADIUS_PX, BLUR_PX, NOISE_GREY = 20.0, 1.2, 3.0


def disc_case(seed, look=None, shape=None):
    """One black disc, R = 20 px, somewhere on the pixel grid, in one channel."""
    sensor = Sensor(noise_grey=NOISE_GREY, mono=True)
    look = look or Look(lens=Lens(BLUR_PX), sensor=sensor)
    job = job_of((MarkDesign("black", shape or Disc(0.4), 0.0, 0.0),))
    rng = np.random.default_rng(seed)
    origin = tuple(40.0 + rng.uniform(0, 1, 2))
    shot = Shot(80, 84, seed=seed, origin_px=(float(origin[0]), float(origin[1])))
    return Case(job, Scene(job, LINEAR, look, shot), {})


def fitted(case, *, told=True):
    scene = case.scene
    frame, truth = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    return ideal_places(case, frame, told=told), truth, frame


def bound_px(frame):
    """check-values, section 7: (s_n/A) sqrt(2 s / (sqrt(pi) R)); rounding is noise too, and
    the pixel's own square adds to the blur."""
    values = frame.pixels.astype(float)
    contrast = np.median(values[:10]) - np.median(values[36:44, 36:44])
    noise = math.sqrt(NOISE_GREY**2 + 1.0 / 12.0)
    blur = math.sqrt(BLUR_PX**2 + 1.0 / 12.0)
    return noise / contrast * math.sqrt(2.0 * blur / (math.sqrt(math.pi) * RADIUS_PX))


def test_a_disc_is_placed_as_well_as_the_bound_allows():
    errors, claimed, bounds = [], [], []
    for seed in range(150):
        (place,), truth, frame = fitted(disc_case(seed))
        mark = truth.marks[0]
        errors += [place.row_px - mark.row_px, place.col_px - mark.col_px]
        claimed += [place.row_sd_px, place.col_sd_px]
        bounds.append(bound_px(frame))
    # 300 errors: their rms is known to 4 %.
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(np.mean(bounds), rel=0.12)
    assert np.mean(claimed) == pytest.approx(np.mean(bounds), rel=0.03)
    assert abs(np.mean(errors)) < 3.0 * np.mean(bounds) / math.sqrt(300)


def test_what_cannot_be_seen_has_no_place():
    job = job_of(at_one_place({"cyan": Disc(0.3), "black": Disc(0.6)}), opaque=("black",))
    case = disc_case(1)
    scene = replace(case.scene, job=job, look=Look(sensor=Sensor(noise_grey=2.0)))
    (cyan, black), truth, _ = fitted(Case(job, scene, {}))
    assert math.isnan(cyan.row_px)
    assert abs(black.row_px - truth.mark("black").row_px) < 0.01


def test_missing_ink_is_left_out_and_not_averaged():
    half = HalfPrint("black", 0.0, 0.02, 0.04)
    look = disc_case(1).scene.look
    (whole,), _, _ = fitted(disc_case(5, look))
    (place,), truth, _ = fitted(disc_case(5, replace(look, defects=(half,))))
    mark = truth.marks[0]
    assert math.hypot(place.row_px - mark.row_px, place.col_px - mark.col_px) < 0.08
    assert place.row_sd_px > 1.2 * whole.row_sd_px


def test_a_screen_that_may_lie_anywhere_is_fitted_too():
    """With the dots' place free, the dots say nothing: the outline alone must."""
    look = disc_case(1).scene.look
    (solid,), _, _ = fitted(disc_case(7, look, Disc(0.6)))
    screen = Halftone("black", 0.5, 60.0, 30.0, phase=(0.2, 0.4))
    (place,), truth, _ = fitted(disc_case(7, replace(look, defects=(screen,)), Disc(0.6)))
    mark = truth.marks[0]
    assert math.hypot(place.row_px - mark.row_px, place.col_px - mark.col_px) < 0.1
    assert place.row_sd_px > solid.row_sd_px


@pytest.mark.parametrize(
    "defect", [Slur("black", 50.0, 0.7), Double("black", 0.1, 0.0, 0.4)], ids=["slur", "double"]
)
def test_to_be_told_how_much_of_a_defect_there_is_hardly_helps(defect):
    """So the floor told it is one that a measurer who has to find it out can come near."""
    case = disc_case(3, replace(disc_case(1).scene.look, defects=(defect,)))
    (told,), truth, _ = fitted(case)
    (untold,), _, _ = fitted(case, told=False)
    mark = truth.marks[0]
    assert told.row_sd_px < untold.row_sd_px < 1.5 * told.row_sd_px
    assert abs(untold.row_px - mark.row_px) < 4.0 * untold.row_sd_px
