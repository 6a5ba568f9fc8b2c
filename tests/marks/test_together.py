"""Marks on top of each other: every ink gets its own number, or an honest doubt."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.job import Colour, Ink, Press, Station
from regscan.job.layout import Cross, Disc, MarkDesign, Ring, Square, Triangle
from regscan.marks.clusters import Box, clusters
from regscan.marks.finder import MarkFinder
from regscan.marks.finding.search import Search
from regscan.marks.overlap.mixture import Coloured, Picture, known_steps
from regscan.marks.overlap.scene import Placed, Scene, Window
from regscan.marks.shape.stencil import stencil
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Overprint, Patch, Print, Sensor, Shot
from tests.marks.conftest import SHAPES, six_colours

INKS = ("yellow", "magenta", "cyan", "black")
LOOK = Look(sensor=Sensor(noise_grey=2.0))


def at_one_place(*shapes):
    """A four-colour job with all marks designed at one place."""
    base = six_colours()
    return replace(
        base,
        inks=tuple(base.ink(name) for name in INKS),
        press=Press(
            "Press 2", 304.8, 330.0, tuple(Station(n + 1, k, 1.0) for n, k in enumerate(INKS))
        ),
        marks=tuple(MarkDesign(k, s, 0.0, 0.0) for k, s in zip(INKS, shapes, strict=True)),
    )


SETS = {
    "crosses turned": [Cross(0.7, 0.12, turn) for turn in (0.0, 22.5, 45.0, 67.5)],
    "one in another": [Disc(0.8), Ring(0.6, 0.4), Ring(0.9, 0.7), Cross(0.5, 0.1)],
    "mixed": [Square(0.7), Disc(0.5), Ring(0.9, 0.6), Cross(0.4, 0.1, 45.0)],
}


def measured(job, camera, count, spread_mm=0.15, seed=5, look=LOOK):
    """(mark, true place) pairs of seeded frames with colours up to spread_mm off."""
    rng = np.random.default_rng(seed)
    finder = MarkFinder(job, camera)
    for number in range(count):
        offsets = {k: tuple(rng.uniform(-spread_mm, spread_mm, 2)) for k in INKS}
        frame, truth = draw_frame(job, camera, offsets, look, Shot(360, 400, seed=number))
        for mark in finder.measure(frame):
            yield mark, truth.mark(mark.ink)


@pytest.mark.parametrize("name", SETS)
def test_every_ink_of_a_pile_is_placed(name, camera):
    pairs = list(measured(at_one_place(*SETS[name]), camera, 8))
    assert {m.status for m, _ in pairs} == {"ok"}
    errors = np.array([(m.row_px - t.row_px, m.col_px - t.col_px) for m, t in pairs])
    assert np.abs(errors).max() < 0.03
    pulls = errors / np.array([(m.row_var**0.5, m.col_var**0.5) for m, _ in pairs])
    # 64 values: the spread of a true pull is 1 +- 0.09 (one sigma).
    assert 0.75 < np.std(pulls) < 1.3


def test_the_last_inks_of_ten_are_placed_on_each_other(camera):
    """A press of ten stations has more inks than a byte has bits."""
    base = six_colours()
    more = {
        "orange": (60.0, 60.0, 50.0),
        "violet": (35.0, 40.0, -60.0),
        "sky": (70.0, -20.0, -30.0),
        "pink": (60.0, 70.0, -10.0),
    }
    inks = base.inks + tuple(Ink(name, Colour("lab", lab)) for name, lab in more.items())
    stations = tuple(Station(n + 1, ink.name, float(n > 0)) for n, ink in enumerate(inks))
    shapes = (Disc(0.5), Ring(1.3, 1.0), Cross(1.2, 0.15), Square(0.8))
    job = replace(
        base,
        inks=inks,
        press=replace(base.press, stations=stations),
        marks=base.marks
        + tuple(MarkDesign(k, s, 4.5, 1.0) for k, s in zip(more, shapes, strict=True)),
    )
    offsets = {"violet": (0.1, -0.05), "sky": (-0.08, 0.06), "pink": (0.05, 0.1)}
    frame, truth = draw_frame(job, camera, offsets, LOOK, Shot(700, 640))
    for mark in MarkFinder(job, camera).measure(frame):
        true = truth.mark(mark.ink)
        assert mark.status == "ok"
        assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.05


def test_a_mark_is_found_on_another_whose_colour_it_changes_otherwise_than_foretold(camera):
    """A cross all within a square: the published green of cyan on yellow (FOGRA39L) is so far
    from the product of both that it hardly seems to hold cyan, but it has the cross's form."""
    job = at_one_place(Square(1.4), Disc(0.5), Cross(1.0, 0.3, 30.0), Disc(0.5))
    aside = {"magenta": (0.0, 2.0), "black": (2.0, 0.0)}
    marks = tuple(MarkDesign(m.ink, m.shape, *aside.get(m.ink, (0.0, 0.0))) for m in job.marks)
    green = Overprint(frozenset({"yellow", "cyan"}), Colour("lab", (50.0, -65.0, 27.0)))
    look = replace(LOOK, overprints=(green,))
    for mark, true in measured(replace(job, marks=marks), camera, 4, look=look):
        assert mark.status == "ok"
        assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.1


def test_a_colour_under_black_is_never_a_confident_guess(camera):
    """A small cyan disc wholly under a large black one: what shows of it is next to nothing."""
    shapes = [Disc(0.3), Cross(0.9, 0.1), Disc(0.3), Disc(0.8)]
    for mark, truth in measured(at_one_place(*shapes), camera, 6, spread_mm=0.1):
        if mark.status == "ok":
            error = np.hypot(mark.row_px - truth.row_px, mark.col_px - truth.col_px)
            doubt = np.sqrt(mark.row_var + mark.col_var)
            assert error * camera.mm_per_px < 0.05
            assert error < 5.0 * doubt


def test_an_ink_that_is_not_printed_is_not_seen_in_another(camera):
    """Green looks like cyan on yellow; without cyan on the web, cyan must be missing."""
    job = six_colours()
    drawn = replace(job, marks=tuple(m for m in job.marks if m.ink != "cyan"))
    for seed in range(4):
        frame, _ = draw_frame(drawn, camera, {}, LOOK, Shot(480, 640, seed=seed))
        status = {m.ink: m.status for m in MarkFinder(job, camera).measure(frame)}
        assert status.pop("cyan") == "missing"
        assert set(status.values()) == {"ok"}


def test_a_first_print_is_read_with_colours_millimetres_off(job, camera):
    rng = np.random.default_rng(11)
    finder = MarkFinder(job, camera)
    found, errors = 0, []
    for seed in range(12):
        offsets = {m.ink: tuple(rng.uniform(-3.0, 3.0, 2)) for m in job.marks}
        shot = Shot(900, 1000, seed=seed, origin_px=(350.0, 330.0))
        frame, truth = draw_frame(job, camera, offsets, LOOK, shot)
        for mark in finder.measure(frame):
            true = truth.mark(mark.ink)
            if mark.status == "ok":
                found += 1
                errors.append(max(abs(mark.row_px - true.row_px), abs(mark.col_px - true.col_px)))
    assert max(errors) < 0.1
    assert found >= 0.95 * 12 * len(job.marks)


def test_a_first_print_among_artwork_misleads_nothing(job, camera):
    rng = np.random.default_rng(4)
    finder = MarkFinder(job, camera)
    pulls = []
    for seed in range(10):
        offsets = {m.ink: tuple(rng.uniform(-2.0, 2.0, 2)) for m in job.marks}
        patches = tuple(
            Patch(str(ink), *rng.uniform(-2.0, 5.0, 2), *rng.uniform(0.2, 1.5, 2))
            for ink in rng.choice([m.ink for m in job.marks], 4)
        )
        shot = Shot(800, 900, seed=seed, origin_px=(300.0, 280.0))
        frame, truth = draw_frame(job, camera, offsets, replace(LOOK, patches=patches), shot)
        for mark in finder.measure(frame):
            true = truth.mark(mark.ink)
            if mark.status == "ok":
                error = mark.row_px - true.row_px, mark.col_px - true.col_px
                assert np.hypot(*error) * camera.mm_per_px < 0.01
                pulls.append(error / np.sqrt([mark.row_var, mark.col_var]))
    # Some lie wholly under or upon artwork of their own ink, where nothing shows them.
    assert len(pulls) >= 0.85 * 10 * len(job.marks)
    assert np.mean(np.abs(pulls) < 3.0) > 0.95


@pytest.mark.parametrize("seed", range(6))
def test_marks_that_touch_among_artwork_are_sure_by_what_shows_of_their_outlines(camera, seed):
    """Two discs that overlap, and a bar printed under both: no scene of discs alone explains it,
    but most of either outline shows."""
    job = at_one_place(Disc(0.9), Disc(0.9), Disc(0.9), Disc(0.9))
    aside = {"yellow": (0.0, -2.0), "black": (0.0, 2.0), "cyan": (0.6, 0.4)}
    marks = tuple(MarkDesign(m.ink, m.shape, *aside.get(m.ink, (0.0, 0.0))) for m in job.marks)
    look = replace(LOOK, patches=(Patch("yellow", 0.1, 0.1, 2.2, 0.25, 1.0),))
    rng = np.random.default_rng(seed)
    offsets = {k: tuple(rng.uniform(-0.05, 0.05, 2)) for k in INKS}
    told = replace(job, marks=marks)
    frame, truth = draw_frame(told, camera, offsets, look, Shot(500, 600, seed=seed))
    found = {mark.ink: mark for mark in MarkFinder(told, camera).measure(frame)}
    for ink in ("magenta", "cyan"):
        mark, true = found[ink], truth.mark(ink)
        error = np.array([mark.row_px - true.row_px, mark.col_px - true.col_px])
        assert mark.status == "ok"
        assert np.hypot(*error) < 0.1
        assert np.abs(error / np.sqrt([mark.row_var, mark.col_var])).max() < 4.0


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("off_px", [0.0, 0.5, 1.0])
def test_colours_alone_tell_artwork_among_marks_wherever_these_lie_to_a_pixel(name, off_px, camera):
    """Of marks alone colours leave no more than camera noise away from outlines, laid beside
    their places or not; of a bar of artwork among them, much more."""
    job = at_one_place(*SETS[name])
    offsets = dict(zip(INKS, [(0.1, 0.1), (-0.1, 0.15), (0.2, -0.1), (0.0, 0.0)], strict=True))
    search = Search(job, camera, job.marks)
    bar = Patch("magenta", 0.1, 0.9, 0.5, 1.5)
    noises = []
    for look in (LOOK, replace(LOOK, patches=(bar,))):
        frame, truth = draw_frame(job, camera, offsets, look, Shot(360, 400, seed=3))
        view = search.view(frame.pixels)
        window = Window(80, 100, 200, 200)
        light, weight = view.even_light(slice(80, 280), slice(100, 300))
        placed = []
        for mark in job.marks:
            true = truth.mark(mark.ink)
            place = true.row_px + off_px, true.col_px - off_px
            bit = view.palette.names.index(mark.ink)
            placed.append(Placed.at(bit, stencil(mark.shape, camera, 0.0), place, window))
        scene = Scene(placed, window, (1.1, 1.1))
        noises.append(Coloured.of(Picture(window, light, weight), scene, view.palette).noise)
    alone, among = noises
    assert alone < 4.0
    assert among > 10.0


def test_a_mark_on_artwork_is_found_by_its_outline_where_its_colour_leads_nowhere(job, camera):
    """Cyan on a magenta block prints the published blue (FOGRA39L), in which there seems to be
    hardly any cyan; a black disc seems to hold more of it."""
    blue = Overprint(frozenset({"cyan", "magenta"}), Colour("lab", (24.0, 22.0, -46.0)))
    shapes = (Cross(0.6, 0.22), *SHAPES[1:3], Disc(0.6), *SHAPES[4:])
    own = six_colours(shapes)
    place = next(m for m in own.marks if m.ink == "cyan")
    block = Patch("magenta", place.circumferential_mm, place.lateral_mm, 1.3, 1.0)
    look = replace(LOOK, patches=(block,), overprints=(blue,))
    finder = MarkFinder(own, camera)
    for seed in range(4):
        frame, truth = draw_frame(own, camera, {}, look, Shot(480, 640, seed=seed))
        mark = next(m for m in finder.measure(frame) if m.ink == "cyan")
        true = truth.mark("cyan")
        assert mark.status == "ok"
        assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.15


@pytest.mark.parametrize("seed", range(4))
def test_a_place_on_artwork_that_is_nothing_like_the_mark_is_no_place(camera, seed):
    """A disc half under black that runs into a block of its own ink: colour and form lead into
    the block, up to 1.2 mm off."""
    job, rng = six_colours((Disc(0.6),) * 6), np.random.default_rng(seed)
    green, black = (
        np.array(next((m.circumferential_mm, m.lateral_mm) for m in job.marks if m.ink == ink))
        for ink in ("green", "black")
    )
    turn = rng.uniform(0.0, 2.0 * np.pi)
    way = np.array([np.cos(turn), np.sin(turn)])
    block = Patch("green", *(green - rng.uniform(0.6, 0.9, 2) * way), 1.0, 1.1)
    offsets = {"black": tuple(green + 0.25 * way - black)}
    shot = Shot(700, 800, seed=seed, origin_px=(300.0, 300.0))
    frame, truth = draw_frame(job, camera, offsets, replace(LOOK, patches=(block,)), shot)
    for mark in MarkFinder(job, camera).measure(frame):
        true = truth.mark(mark.ink)
        assert mark.ink == "green" or mark.status == "ok"
        if mark.status != "missing":
            assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.15


@pytest.mark.parametrize(
    "block",
    [
        Patch("black", 0.84, 0.8, 1.14, 1.95, -0.75),
        Patch("black", 0.6, 1.21, 1.75, 1.15, 1.28),
    ],
)
def test_a_mark_with_a_corner_under_artwork_is_known_by_the_rest_of_its_outline(camera, block):
    """Too little of it is touched to ask for its outline first, too much for a fit of all of it."""
    job = six_colours((Triangle(0.66),) * 6)
    look, shot = replace(LOOK, patches=(block,)), Shot(900, 1000, seed=9, origin_px=(400.0, 400.0))
    frame, truth = draw_frame(job, camera, {}, look, shot)
    mark = next(m for m in MarkFinder(job, camera).measure(frame) if m.ink == "green")
    true = truth.mark("green")
    assert mark.status == "ok"
    assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.05


@pytest.mark.parametrize("beyond_mm", [0.012, 0.024, 0.036])
def test_the_edge_of_artwork_just_beyond_a_mark_is_not_taken_for_its_own(camera, beyond_mm):
    """A disc in a bar of its own ink that ends a few pixels beyond it: only how far the others
    have grown tells that the bar's edge is not the disc's."""
    job = six_colours((Disc(0.6),) * 6)
    place = next(m for m in job.marks if m.ink == "green")
    along = place.circumferential_mm - 0.15 - beyond_mm
    bar = Patch("green", along, place.lateral_mm - 0.4, 0.3, 2.2, 1.0)
    look = replace(LOOK, print=Print(gain_um=5.0), patches=(bar,))
    frame, truth = draw_frame(job, camera, {}, look, Shot(480, 640, seed=3))
    for mark in MarkFinder(job, camera).measure(frame):
        true = truth.mark(mark.ink)
        assert (mark.status == "ok") == (mark.ink != "green")
        assert np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px) < 0.1


def test_an_ink_that_is_not_printed_is_not_found_among_like_marks(camera):
    """Six like discs and artwork, millimetres off, one ink of them not printed."""
    job, rng = six_colours((Disc(0.6),) * 6), np.random.default_rng(8)
    finder, inks = MarkFinder(job, camera), [m.ink for m in job.marks if m.ink != "black"]
    for seed in range(8):
        gone = inks[seed % len(inks)]
        offsets = {m.ink: tuple(rng.uniform(-2.0, 2.0, 2)) for m in job.marks}
        patches = tuple(
            Patch(str(ink), *rng.uniform(-2.0, 5.0, 2), *rng.uniform(0.8, 2.0, 2))
            for ink in rng.choice([m.ink for m in job.marks], 4)
        )
        drawn = replace(job, marks=tuple(m for m in job.marks if m.ink != gone))
        shot = Shot(800, 900, seed=seed, origin_px=(300.0, 280.0))
        frame, _ = draw_frame(drawn, camera, offsets, replace(LOOK, patches=patches), shot)
        assert {m.ink: m.status for m in finder.measure(frame)}[gone] != "ok"


@pytest.mark.parametrize("size", [(1.5, 0.3), (1.2, 1.2), (0.5, 0.35)])
def test_artwork_taken_for_a_mark_makes_no_other_mark_doubtful(size, camera):
    """A block where one of two marks should be fits it badly, which says nothing of the other."""
    job = six_colours((Disc(0.6),) * 6)
    two = tuple(m for m in job.marks if m.ink in ("cyan", "black"))
    cyan, black = two if two[0].ink == "cyan" else two[::-1]
    place = cyan.circumferential_mm + 0.2, cyan.lateral_mm - 0.1
    block = Patch("cyan", *place, *size, 10.0)
    finder = MarkFinder(replace(job, marks=two), camera)
    for seed in range(2):
        drawn = replace(job, marks=(black,))
        look, shot = replace(LOOK, patches=(block,)), Shot(480, 640, seed=seed)
        frame, truth = draw_frame(drawn, camera, {}, look, shot)
        found = {m.ink: m for m in finder.measure(frame)}
        true = truth.mark("black")
        assert found["cyan"].status != "ok"
        assert found["black"].status == "ok"
        assert found["black"].row_var + found["black"].col_var < 0.03**2
        assert abs(found["black"].row_px - true.row_px) < 0.03


def test_what_only_rounding_tells_is_unknown():
    """Two steps that a picture feels as one: their sum is known, their difference is not."""
    felt = np.random.default_rng(3).standard_normal((500, 2))
    both = np.column_stack([felt[:, 0], felt[:, 0], felt[:, 1]])
    for sign in (-1.0, 1.0):
        rounded = both.T @ both
        rounded[0, 1] = rounded[1, 0] = rounded[0, 1] * (1.0 - sign * 1e-8)
        hessian, steps = known_steps(rounded, both.T @ (both @ [0.3, 0.1, 0.5]))
        assert steps == pytest.approx([0.2, 0.2, 0.5], abs=1e-6)
        covariance = np.linalg.inv(hessian)
        difference, total = (w @ covariance @ w for w in np.array([[1, -1, 0], [1, 1, 0]]))
        assert difference > 1e5
        assert total == pytest.approx(1.0 / (felt[:, 0] @ felt[:, 0]), rel=0.1)


@pytest.mark.parametrize("seed", [5, 6, 8])
def test_like_marks_with_one_edge_between_them_are_not_told_apart(seed, camera):
    """Nor where one of them takes the others' edges for its own, so that they seem missing."""
    shapes = [Cross(0.7, 0.12)] * 4
    for mark, _ in measured(at_one_place(*shapes), camera, 4, spread_mm=0.04, seed=seed):
        assert mark.status != "ok"


def test_how_far_like_marks_may_have_taken_each_others_edges_is_told(camera):
    """Doubtful places were off by 11 times their stated doubt, rms."""
    shares = []
    for mark, true in measured(at_one_place(*[Cross(2.0, 0.2)] * 4), camera, 10, spread_mm=0.08):
        if mark.status == "doubtful":
            off = np.array([mark.row_px - true.row_px, mark.col_px - true.col_px])
            shares.append(off / np.sqrt([mark.row_var, mark.col_var]))
    assert len(shares) > 10
    assert np.sqrt(np.mean(np.square(shares))) < 1.5


def test_what_an_opaque_ink_hides_is_not_read_from_its_shade(camera):
    """A cyan disc all but hidden by an opaque black one: its rim alone cannot place it."""
    job = at_one_place(Disc(1.2), Ring(1.6, 1.4), Disc(0.5), Disc(0.6))
    opaque = tuple(replace(i, cover="opaque") if i.name == "black" else i for i in job.inks)
    for mark, true in measured(replace(job, inks=opaque), camera, 6, spread_mm=0.04):
        error = np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px)
        assert mark.status != "ok" or error < 0.1
        assert mark.ink != "cyan" or mark.status != "ok"


def test_what_lies_wholly_under_black_is_missing_not_guessed(camera):
    """A disc and a ring under an opaque square: grain in the black is no sign of either."""
    job = at_one_place(Square(1.3), Disc(0.8), Ring(0.7, 0.4), Square(1.0))
    opaque = tuple(replace(i, cover="opaque") if i.name == "black" else i for i in job.inks)
    for mark, true in measured(replace(job, inks=opaque), camera, 16, spread_mm=0.1):
        if mark.ink in ("yellow", "black"):
            assert mark.status == "ok"
        elif mark.status != "missing":
            off = np.abs([mark.row_px - true.row_px, mark.col_px - true.col_px])
            assert (off < 5.0 * np.sqrt([mark.row_var, mark.col_var])).all()


def test_clusters_are_joined_through_a_third():
    boxes = [Box(0, 0, 5, 5), Box(0, 18, 5, 5), Box(0, 9, 5, 5), Box(90, 90, 5, 5)]
    assert clusters(boxes, 1.0) == [[0, 1, 2], [3]]
    assert clusters(boxes[:2], 1.0) == [[0], [1]]
