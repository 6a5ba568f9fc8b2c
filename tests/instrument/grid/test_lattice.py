"""Numbering of nodes: turned, bent, holed, with dust, partly out of view."""

import numpy as np
import pytest

from regscan.instrument.grid.lattice import number_nodes
from tests.instrument.grid.nodes import CAMERA, Laid, seen_grid


def agree(found, true):
    """True when two numberings differ by a symmetry of the square grid and a shift only."""
    known = np.isfinite(found[:, 0])
    design = np.column_stack([np.ones(known.sum()), true[known]])
    way, *_ = np.linalg.lstsq(design, found[known], rcond=None)
    square = way[1:]
    np.testing.assert_allclose(design @ way, found[known], atol=1e-6)
    np.testing.assert_allclose(square @ square.T, np.eye(2), atol=1e-6)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 45.0, 88.0, -133.0])
def test_a_turned_and_bent_grid_is_numbered_whole(turn_deg):
    grid = seen_grid(CAMERA, Laid(turn_deg), 0.3, 1)
    found = number_nodes(grid.places)
    assert np.isfinite(found).all()
    agree(found, grid.nodes)


@pytest.mark.parametrize("seed", range(5))
def test_holes_dust_and_a_missing_corner(seed):
    rng = np.random.default_rng(seed)
    grid = seen_grid(CAMERA, Laid(9.0, (150.0, 200.0)), 0.1, seed)
    kept = rng.random(len(grid.nodes)) > 0.12
    dust = rng.uniform(0, 480, (25, 2)) * (1, 640 / 480)
    points = np.concatenate([grid.places[kept], dust])
    found = number_nodes(points)
    nodes, of_dust = found[: kept.sum()], found[kept.sum() :]
    assert np.isfinite(nodes[:, 0]).mean() > 0.97
    agree(nodes, grid.nodes[kept])
    # A speck counts only where it lies within a part of a pixel of a place on the grid.
    assert np.isfinite(of_dust[:, 0]).sum() <= 1


def test_a_grid_seen_askew_is_numbered():
    """Steps that shrink to half across the frame, as of a plate held up to the camera."""
    i, j = (g.ravel() for g in np.meshgrid(np.arange(9.0), np.arange(12.0), indexing="ij"))
    near = 1.0 + 0.04 * j
    points = np.stack([100.0 + 40.0 * i / near, 80.0 + 60.0 * j / near], axis=1)
    found = number_nodes(points)
    assert np.isfinite(found).all()
    agree(found, np.stack([i, j], axis=1))


def test_scattered_points_are_no_grid():
    points = np.random.default_rng(3).uniform(0, 600, (150, 2))
    # A few may line up by chance; a grid's frame has most of its points on the grid.
    assert np.isfinite(number_nodes(points)[:, 0]).mean() < 0.3


@pytest.mark.parametrize("count", [0, 1, 3, 5])
def test_too_few_points_are_no_grid(count):
    points = np.random.default_rng(3).uniform(0, 600, (count, 2))
    assert not np.isfinite(number_nodes(points)).any()
