"""A template's planes against differences of templates drawn anew."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter

from regscan.camera.camera import Camera
from regscan.job.layout import Cross, Diamond, Disc, Ring, Square, Triangle
from regscan.marks.shape.planes import PHASES
from regscan.marks.shape.stencil import SAMPLES, stencil
from regscan.marks.shape.template import Appearance, Template

CAMERA = Camera(0.012, 0.012)


@pytest.mark.parametrize("shape", [Disc(0.5), Cross(0.6, 0.14), Triangle(0.6)])
def test_phases_and_centres_invert_each_other(shape):
    template = Template(shape, CAMERA, Appearance(1.2, 1.2))
    for place in np.random.default_rng(1).uniform(50, 60, (50, 2)):
        centre = template.centre_of(*template.phase_of(*place))
        assert np.abs(np.array(centre) - place).max() <= 0.125 + 1e-9


@pytest.mark.parametrize("shape", [Disc(0.5), Cross(0.6, 0.14), Triangle(0.6)])
def test_shift_planes_are_what_a_quarter_pixel_changes(shape):
    template = Template(shape, CAMERA, Appearance(1.4, 1.4))
    for axis, column in ((0, 4), (1, 5)):
        # A larger phase number is a centre one quarter pixel earlier.
        before, after = [2, 2], [2, 2]
        before[axis], after[axis] = 3, 1
        change = template.design(tuple(after))[3] - template.design(tuple(before))[3]
        plane = template.design((2, 2))[column]
        assert change / 0.5 == pytest.approx(plane, abs=0.012)


@pytest.mark.parametrize("shape", [Disc(0.5), Cross(0.6, 0.14), Triangle(0.6)])
def test_a_centre_between_phases_shows_their_mean_to_a_hundredth_of_a_code(shape):
    template = Template(shape, CAMERA, Appearance(1.2, 1.2))
    rows, cols = template.places + np.array([[template.half_rows], [template.half_cols]])
    for place in np.random.default_rng(2).uniform(50, 60, (20, 2)):
        between = template.phases_about(*place)
        four = [
            (between.low[0] + down, between.low[1] + right) for down in (0, 1) for right in (0, 1)
        ]
        drawn = sum(
            share * template.picture(phase)[rows, cols]
            for share, phase in zip(between.shares, four, strict=True)
        )
        assert template.ink_at(between)[0] == pytest.approx(drawn, abs=0.01 / 255.0)


@pytest.mark.parametrize("shape", [Disc(0.5), Cross(0.6, 0.14), Ring(0.6, 0.3)])
def test_every_place_of_the_edge_lies_in_one_sector_and_all_of_a_sector_one_way(shape):
    template = Template(shape, CAMERA, Appearance(1.2, 1.2))
    held = template.in_sector > 0.0
    assert sorted(template.sectors[held]) == np.flatnonzero(template.edge).tolist()
    rows, cols = template.places
    for places, own in zip(template.sectors, held, strict=True):
        ways = np.arctan2(rows[places[own]], cols[places[own]])
        assert np.ptp(ways) <= 2.0 * np.pi / len(held) + 1e-9


def test_blur_and_growth_planes_are_what_blur_and_growth_change():
    wide, narrow = (
        Template(Disc(0.5), CAMERA, Appearance(1.3, 1.2)),
        Template(Disc(0.5), CAMERA, Appearance(1.1, 1.2)),
    )
    change = (wide.picture((2, 2)) - narrow.picture((2, 2)))[20:-20, 20:-20]
    middle = Template(Disc(0.5), CAMERA, Appearance(np.sqrt((1.3**2 + 1.1**2) / 2), 1.2))
    plane = middle._phase_planes((2, 2))[3][20:-20, 20:-20] * (1.3**2 - 1.1**2)
    assert np.abs(change - plane).max() < 0.06 * np.abs(plane).max()
    grown = Template(Disc(0.5 + 2 * 0.012 * 0.1), CAMERA, Appearance(1.2, 1.2))
    base = Template(Disc(0.5), CAMERA, Appearance(1.2, 1.2))
    change = grown.picture((2, 2)) - base.picture((2, 2))
    assert change.sum() == pytest.approx(0.1 * base.area_per_growth_px, rel=0.08)


@pytest.mark.parametrize("camera", [CAMERA, Camera(0.010, 0.0125)])
@pytest.mark.parametrize(
    "shape", [Disc(0.5), Cross(0.6, 0.14), Triangle(0.6), Diamond(0.7, 0.5), Square(0.5, 20.0)]
)
def test_every_edge_spreads_as_far_whichever_way_it_faces(shape, camera):
    growths_px = -0.15, 0.15, 0.0
    smaller, larger, middle = (
        Template(shape, camera, Appearance(1.2, 1.2, growth)) for growth in growths_px
    )
    whole = larger.shape_px
    change = (larger.picture((2, 2)) - about_middle(smaller.picture((2, 2)), whole)) / 0.3
    plane = about_middle(middle._phase_planes((2, 2))[5], whole)
    assert np.linalg.norm(change - plane) < 0.03 * np.linalg.norm(change)


def about_middle(picture, size):
    """The picture with bare paper round it, its middle pixel in the middle of this size."""
    room = [(whole - own) // 2 for whole, own in zip(size, picture.shape, strict=True)]
    return np.pad(picture, [(n, n) for n in room])


@pytest.mark.parametrize("sizes", [(0.010, 0.0125), (0.0125, 0.010), (0.012, 0.012)])
def test_ink_spreads_alike_on_the_web_whatever_form_pixels_have(sizes):
    """Against a larger disc: as much of its growth lies above and below as on its sides."""
    camera = Camera(*sizes, rotation_deg=4.0)
    growth_px, look = 0.5, Appearance(1.2, 1.2)
    base, larger = (
        Template(Disc(0.5 + extra), camera, look).picture((2, 2))
        for extra in (-growth_px * camera.mm_per_px, growth_px * camera.mm_per_px)
    )
    middle = Template(Disc(0.5), camera, look)
    plane = middle._phase_planes((2, 2))[5]
    at = [np.arange(n) - n // 2 for n in larger.shape]
    change = larger - about_middle(base, larger.shape)
    assert change.sum() == pytest.approx(growth_px * middle.area_per_growth_px, rel=0.01)
    wanted = [(change.sum(1 - k) * at[k] ** 2).sum() / change.sum() for k in (0, 1)]
    own = [np.arange(n) - n // 2 for n in plane.shape]
    found = [(plane.sum(1 - k) * own[k] ** 2).sum() / plane.sum() for k in (0, 1)]
    assert found == pytest.approx(wanted, rel=0.01)


@pytest.mark.parametrize("shape", [Triangle(0.6), Diamond(0.66, 0.66), Disc(0.6), Cross(0.6, 0.2)])
@pytest.mark.parametrize("along", [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0)])
def test_edges_that_face_a_way_sum_up_to_the_mark_dragged_that_way(shape, along):
    """Beside the outline itself dragged on, sample by sample, and softened by another library.
    Where a facing edge meets one that faces away, at the foot of a triangle, neither is lost."""
    look, steps = Appearance(1.2, 1.2), 3 * PHASES
    template = Template(shape, CAMERA, look)
    sharp = template._ink()
    axis, way = (0, int(along[0])) if along[0] else (1, int(along[1]))
    dragged = np.maximum.reduce([np.roll(sharp, way * k, axis) for k in range(steps + 1)])
    added = uniform_filter(gaussian_filter(dragged - sharp, 1.2 * PHASES), PHASES)
    far_px = (np.arange(steps) + 0.5) / PHASES
    centre = template.centre_of((2, 2), 40, 50)
    found = template.facing_at(*centre, along, far_px).sum(axis=0) / PHASES
    rows, cols = PHASES * (template.places + np.array([[template.half_rows], [template.half_cols]]))
    # A mean over PHASES samples from here on lies about the second one further on.
    there = added[rows + 2 + PHASES // 2, cols + 2 + PHASES // 2]
    assert np.abs(found - there).max() < 0.02
    assert there.max() > 0.5


def test_a_stencils_edge_lies_along_the_outline():
    ring = stencil(Ring(1.0, 0.8), CAMERA, 0.0)
    away = np.hypot(ring.rows + 0.5 - ring.middle[0], ring.cols + 0.5 - ring.middle[1]) / SAMPLES
    radii = np.array([0.5, 0.4]) / 0.012
    assert np.abs(away[:, None] - radii).min(axis=1).max() < 2.0 / SAMPLES


def test_a_mark_of_more_places_than_can_be_read_at_once_is_read_in_parts(monkeypatch):
    template = Template(Disc(0.5), CAMERA, Appearance(1.2, 1.2))
    asked = 50.3, 51.6, (1.0, 0.0), np.array([0.5, 2.0])
    whole = template.facing_at(*asked)
    monkeypatch.setattr("regscan.marks.shape.template._MOST_AT_ONCE", 1000)
    assert template.places.shape[1] > 1000
    assert (template.facing_at(*asked) == whole).all()
