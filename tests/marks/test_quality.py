"""What makes a mark doubtful: what is left of its edge beyond noise, and whose colour it has."""

import numpy as np
import pytest

from regscan.job.layout import Disc, Square
from regscan.marks.fitting.fit import fit_mark
from regscan.marks.fitting.reading import Patch
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import beyond_edge_noise, beyond_noise, ink_flags
from regscan.marks.seeing.inks import Palette
from regscan.marks.shape.template import Appearance, Template

AT = 40.25, 50.0  # a quarter of a pixel: the template's own picture is exact there


def fitted(camera, shape, noise, tail=0.0, seed=1):
    """A fit of a drawn mark as dark as 0.3 on paper of 0.9, with noise that grows with light as
    an sRGB camera's does, and so much of the mark's ink 3 px beyond its lower edge."""
    template = Template(shape, camera, Appearance(1.2, 1.2))
    phase, row, col = template.phase_of(*AT)
    height, width = template.shape_px
    ink = np.zeros((height + 8, width + 8))
    ink[4:-4, 4:-4] = template.picture(phase)
    over = tail * np.maximum(np.roll(ink, 3, axis=0) - ink, 0.0)
    light = 0.9 - 0.6 * (ink + over)
    spread = (0.3 + light) / 1.2
    drawn = np.random.default_rng(seed).standard_normal(light.shape)
    weight = (spread.min() / spread) ** 2
    patch = Patch(
        (light + noise * spread * drawn).astype(np.float32),
        weight.astype(np.float32),
        row - template.half_rows - 4,
        col - template.half_cols - 4,
    )
    return fit_mark(patch, template, *AT)


@pytest.mark.parametrize("shape", [Disc(0.6), Square(0.55)], ids=["disc", "square"])
@pytest.mark.parametrize("noise", [0.003, 0.01])
def test_what_noise_leaves_of_an_edge_is_nothing_beyond_it(camera, shape, noise):
    """Of 1,300 pixels it is known to 3 %: what is left of its square, to a quarter of the misfit.
    The least that any pixel has is a half of it."""
    for seed in range(5):
        fit = fitted(camera, shape, noise, seed=seed)
        assert beyond_edge_noise(fit) < 0.3 * fit.misfit
        assert beyond_noise(fit) > 0.5 * fit.misfit


@pytest.mark.parametrize("noise", [0.001, 0.003, 0.006])
def test_a_tail_shows_beyond_the_noise_as_it_does_without_any(camera, noise):
    """A tail this long lies in so many of the places that it takes the middle one along a little:
    by no more than a fifth of what it leaves."""
    bare = fitted(camera, Square(0.55), 1e-5, tail=0.2)
    for seed in range(5):
        seen = beyond_edge_noise(fitted(camera, Square(0.55), noise, tail=0.2, seed=seed))
        assert 0.8 * bare.misfit < seen < 1.05 * bare.misfit


FILM, WHITE = np.array([0.03, 0.03, 0.03]), np.array([0.8, 0.8, 0.82])


@pytest.mark.parametrize(
    ("share", "sure"), [(0.6, {"white", "thin"}), (0.95, set())], ids=["half as dense", "alike"]
)
def test_inks_of_one_hue_are_told_apart_by_more_than_density_varies(share, sure):
    """Two whites on film, each printed as given: where one is the other hardly thinner, neither's
    colour says whose it is."""
    thin = FILM + share * (WHITE - FILM)
    palette = Palette(("white", "thin"), FILM, np.array([WHITE, thin]), (True, True), {})
    flags = ink_flags(palette.inks, palette, palette.names)
    assert {name for name, flag in zip(palette.names, flags, strict=True) if not flag} == sure


def test_another_ink_that_is_much_nearer_is_whose_a_colour_is_though_denser_than_given():
    """As a grey white, printed a tenth too thick, was taken for the white of the next station."""
    grey = np.array([0.62, 0.68, 0.75])
    palette = Palette(("white", "mist"), FILM, np.array([WHITE, grey]), (True, True), {})
    printed = FILM + 1.15 * (grey - FILM)
    assert ink_flags(printed[None], palette, ["white"]) == [MarkFlag.INK_UNSURE]
