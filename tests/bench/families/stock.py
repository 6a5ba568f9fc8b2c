"""Stock: substrates and inks of the families, as a job names them and as they print.

Process colours and their overprints: characterisation data FOGRA39L (tests/outside/data).
All other colours are invented.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from outside.colours import PROCESS, read_solids

from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import MarkDesign
from regscan.simulator.ink import lab_to_light, light_of
from regscan.simulator.look import Overprint

Lab = tuple[float, float, float]
SOLIDS = read_solids()
PAPER: Lab = SOLIDS[frozenset()].lab
KRAFT: Lab = (66.0, 9.0, 26.0)
FOIL: Lab = (76.0, 0.0, 3.0)
DARK_BACKING: Lab = (18.0, 0.0, -2.0)

INKS: dict[str, Lab] = {
    **{ink: SOLIDS[frozenset({ink})].lab for ink in PROCESS},
    "green": (45.0, -55.0, 30.0),
    "brown": (35.0, 25.0, 30.0),
    "white": (90.0, 0.0, -1.0),
    "silver": (62.0, 0.0, 1.0),
    "orange": (66.0, 45.0, 62.0),
    "lemon": (86.0, -6.0, 70.0),
    "sky": (70.0, -18.0, -30.0),
    "cream": (91.0, -1.0, 14.0),
    "blush": (86.0, 10.0, 1.0),
    "mist": (86.0, -6.0, -8.0),
    "pearl": (82.0, 0.0, 0.0),
}


def job_of(
    marks: Sequence[MarkDesign],
    *,
    substrate: Lab = PAPER,
    reference: str = "black",
    opaque: Sequence[str] = (),
) -> Job:
    """A job whose stations print the marks' inks in the order given.

    Its colours are as they look on its own substrate.
    """
    names = list(dict.fromkeys(mark.ink for mark in marks))
    inks = tuple(_ink(name, substrate, name in opaque) for name in names)
    stations = tuple(Station(k + 1, name, 1.0 if k else 0.0) for k, name in enumerate(names))
    press = Press("Press 2", 304.8, 330.0, stations)
    limit = Tolerance(0.1, 0.1, "house rule")
    paper = Colour("lab", substrate)
    return Job("Honey jar", press, inks, paper, reference, tuple(marks), limit)


def _ink(name: str, substrate: Lab, opaque: bool) -> Ink:
    if opaque or substrate == PAPER:
        cover = "opaque" if opaque else "transparent"
        return Ink(name, Colour("lab", INKS[name]), cover)
    # What the ink lets through on white paper, it lets through here.
    through = np.minimum(lab_to_light(INKS[name]) / lab_to_light(PAPER), 1.0)
    return Ink(name, _taught(through * lab_to_light(substrate)))


def as_printed(
    job: Job, rng: np.random.Generator, *, density: float = 0.06, cast: float = 0.015
) -> Job:
    """The job with its colours as they really come out.

    density   sd of each ink's density, as a share of it.
    cast      sd of the light's colour, as a share of each channel.
    """
    tint = 1.0 + cast * rng.standard_normal(3)
    paper = light_of(job.substrate, "substrate", job)
    inks = []
    for ink in job.inks:
        own = light_of(ink.colour, ink.name, job)
        more = 1.0 + density * float(np.clip(rng.standard_normal(), -2, 2))
        seen = own * more**0.5 if ink.cover == "opaque" else paper * (own / paper) ** more
        inks.append(replace(ink, colour=_taught(seen * tint)))
    return replace(job, inks=tuple(inks), substrate=_taught(paper * tint))


def overprints(printed: Job, rng: np.random.Generator) -> tuple[Overprint, ...]:
    """Colours of all combinations of the job's transparent inks.

    Process inks: the published overprints, as far as their inks' densities differ today.
    With spot inks: the product of what each lets through, and less trapping than that.
    """
    paper = light_of(printed.substrate, "substrate", printed)
    clear = {
        ink.name: light_of(ink.colour, ink.name, printed)
        for ink in printed.inks
        if ink.cover == "transparent"
    }
    found = []
    for count in range(2, len(clear) + 1):
        for names in combinations(clear, count):
            own = np.prod([clear[name] / paper for name in names], axis=0)
            if set(names) <= set(PROCESS):
                own = _published(names) * own / _product(names)
            else:
                own = own ** rng.uniform(0.75, 1.0)
            colour = _taught(np.clip(own, 0.002, 1.0) * paper)
            found.append(Overprint(frozenset(names), colour))
    return tuple(found)


def _published(names: Sequence[str]) -> np.ndarray:
    """Light of a published overprint over its paper's."""
    white = SOLIDS[frozenset()].light
    return np.asarray(np.maximum(SOLIDS[frozenset(names)].light, 0.003) / white)


def _product(names: Sequence[str]) -> np.ndarray:
    return np.asarray(np.prod([_published([name]) for name in names], axis=0))


def _taught(light: np.ndarray) -> Colour:
    red, green, blue = (float(v) for v in np.clip(light, 0.002, 1.1))
    return Colour("taught", (red, green, blue))


def offsets_within(
    job: Job, rng: np.random.Generator, largest_mm: float
) -> Mapping[str, tuple[float, float]]:
    """Every ink somewhere within a square about its place; the reference in its place."""
    found = {}
    for ink in job.inks:
        along, across = rng.uniform(-largest_mm, largest_mm, 2)
        found[ink.name] = (0.0, 0.0) if ink.name == job.reference else (float(along), float(across))
    return found
