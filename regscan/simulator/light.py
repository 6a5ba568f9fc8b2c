"""Light: what the printed web sends back, inks over each other, on a region's fine grid."""

from itertools import chain, combinations, groupby

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Ink, Job
from regscan.simulator.cover import cover_of
from regscan.simulator.ink import light_of, passes
from regscan.simulator.layers import Layer
from regscan.simulator.look import Look, Print
from regscan.simulator.regions import FINE, Region


def light_of_region(region: Region, job: Job, camera: Camera, look: Look, seed: int) -> np.ndarray:
    """Linear light, rows*FINE x cols*FINE x 3, before the lens.

    Inks multiply (transparent) or replace (opaque) what lies below them, in print
    order; combinations named in look.overprints take the colour given there.
    """
    paper = light_of(job.substrate, "substrate", job).astype(np.float32)
    shape = ((region.bottom - region.top) * FINE, (region.right - region.left) * FINE)
    light = np.broadcast_to(paper, (*shape, 3)).copy()
    covers: dict[str, np.ndarray] = {}
    in_order = sorted(region.layers, key=lambda layer: (layer.station, layer.number))
    for _, own in groupby(in_order, key=lambda layer: layer.station):
        pieces = list(own)
        ink = pieces[0].ink
        cover, film = _of_one_plate(pieces, region, camera, look.print, seed)
        light = _lay(ink, job, light, cover, film)
        if look.overprints:
            covers[ink.name] = cover
    return _with_overprints(light, covers, job, look) if len(covers) > 1 else light


def _of_one_plate(
    pieces: list[Layer], region: Region, camera: Camera, look: Print, seed: int
) -> tuple[np.ndarray, np.ndarray | None]:
    """Cover and film of all that one station prints: a plate lays its ink down once."""
    cover, film = cover_of(pieces[0], region, camera, look, seed)
    for piece in pieces[1:]:
        other, other_film = cover_of(piece, region, camera, look, seed)
        if film is not None and other_film is not None:
            film = np.where(other > cover, other_film, film)
        cover = np.maximum(cover, other)
    return cover, film


def _lay(
    ink: Ink, job: Job, light: np.ndarray, cover: np.ndarray, film: np.ndarray | None
) -> np.ndarray:
    """The light after one more ink."""
    share = cover.astype(np.float32)[..., None]
    if ink.cover == "opaque":
        own = light_of(ink.colour, f"inks.{ink.name}", job).astype(np.float32)
        return np.asarray(light + share * (own - light))
    through = passes(ink, job).astype(np.float32)
    if film is not None:
        # Beer's law: film thickness is an exponent of what one film lets through.
        through = np.maximum(through, 1e-3) ** film.astype(np.float32)[..., None]
    return np.asarray(light * (1.0 + share * (through - 1.0)))


def _with_overprints(
    light: np.ndarray, covers: dict[str, np.ndarray], job: Job, look: Look
) -> np.ndarray:
    """Put the given colours where exactly these inks lie on each other."""
    given = {over.inks: over.colour for over in look.overprints}
    names = sorted(covers)
    # Only where inks meet, as lists of points: that is little of most regions.
    met = np.sum([covers[name] > 0.0 for name in names], axis=0) > 1
    seen = light[met]
    at = {name: covers[name][met] for name in names}
    subsets = chain.from_iterable(combinations(names, n) for n in range(2, len(names) + 1))
    for subset in subsets:
        colour = given.get(frozenset(subset))
        if colour is None:
            continue
        parts = [at[name] if name in subset else 1.0 - at[name] for name in names]
        share = np.prod(parts, axis=0).astype(np.float32)[:, None]
        own = light_of(colour, f"overprint {'+'.join(subset)}", job).astype(np.float32)
        seen = seen + share * (own - seen)
    light[met] = seen
    return light
