"""From the pure colours of every frame to one colour each, with its spread."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.instrument.delta_e import difference
from regscan.instrument.pure_colour import FrameColours, PureColour
from regscan.instrument.taught import Rgb, TaughtColour
from regscan.job.job import Colour, Job
from regscan.marks.seeing.inks import colour_light

_PAPER = 0.85  # light of a substrate whose colour nobody has given, to compare colours under
_ENOUGH = 0.5  # share of the frames that must show an overprint
_FULL = 0.99
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # what a mono camera sees of linear sRGB, about


@dataclass(frozen=True)
class Learnt:
    """Colours learnt, and what stands out.

    over_substrate   light of each ink over that of the substrate, C.
    thin             inks whose marks are too thin to show their colour pure.
    overexposed      share of the substrate's pixels at full scale.
    paper            the light to put for the substrate when colours are compared.
    """

    substrate: TaughtColour
    inks: dict[str, TaughtColour]
    overprints: dict[frozenset[str], TaughtColour]
    over_substrate: dict[str, np.ndarray]
    thin: frozenset[str]
    overexposed: float
    paper: np.ndarray


def learn_colours(frames: Sequence[FrameColours], job: Job) -> Learnt:
    """One colour for the substrate, every ink seen alone and every overprint seen often enough.

    Inks are compared as shares of the substrate, so that a lamp that flickers or another
    camera's exposure does not count as another colour.
    """
    substrate = np.median([frame.substrate for frame in frames], axis=0)
    paper = _light_of(job.substrate)
    under = np.full(len(substrate), _PAPER) if paper is None else paper[: len(substrate)]
    collected: dict[frozenset[str], list[PureColour]] = {}
    for frame in frames:
        for inks, pure in frame.inks.items():
            collected.setdefault(inks, []).append(pure)
    middle = {k: np.median([p.light for p in some], axis=0) for k, some in collected.items()}
    taught = {
        inks: TaughtColour(
            camera=_rgb(middle[inks] * substrate),
            spread=_spread([p.light * under for p in some], middle[inks] * under),
            difference=_against(job, inks, middle[inks], under),
            frames=len(some),
            pixels=int(np.median([p.pixels for p in some])),
        )
        for inks, some in collected.items()
    }
    alone = {next(iter(k)): k for k in taught if len(k) == 1}
    return Learnt(
        substrate=_taught_substrate(frames, substrate, paper),
        inks={ink: taught[key] for ink, key in alone.items()},
        overprints={
            k: v for k, v in taught.items() if len(k) > 1 and v.frames >= _ENOUGH * len(frames)
        },
        over_substrate={ink: middle[key] for ink, key in alone.items()},
        thin=frozenset(ink for ink, k in alone.items() if all(p.thin for p in collected[k])),
        overexposed=float(np.median([frame.overexposed for frame in frames])),
        paper=under,
    )


def _taught_substrate(
    frames: Sequence[FrameColours], substrate: np.ndarray, paper: np.ndarray | None
) -> TaughtColour:
    """The substrate compared by hue alone: its level is the camera's exposure."""
    seen = [frame.substrate / frame.substrate.mean() for frame in frames]
    level = _PAPER if paper is None else float(paper.mean())
    hue = substrate / substrate.mean()
    against = None if paper is None else difference(level * hue, _level(paper, len(hue)))
    return TaughtColour(
        camera=_rgb(substrate),
        spread=_spread([level * one for one in seen], level * hue),
        difference=against,
        frames=len(frames),
        pixels=0,
    )


def _level(light: np.ndarray, channels: int) -> np.ndarray:
    return light if channels == 3 else np.array([light @ _LUMINANCE])


def _rgb(light: np.ndarray) -> Rgb:
    red, green, blue = (round(float(v), 4) for v in np.broadcast_to(np.clip(light, 0, _FULL), 3))
    return red, green, blue


def _spread(seen: Sequence[np.ndarray], middle: np.ndarray) -> float | None:
    """How far single frames lie from their middle, rms, in CIEDE2000 units."""
    if len(seen) < 2:
        return None
    return float(np.sqrt(np.mean([difference(one, middle) ** 2 for one in seen])))


def _against(
    job: Job, inks: frozenset[str], over_paper: np.ndarray, under: np.ndarray
) -> float | None:
    """How far a learnt colour lies from what the job says of the same inks; None: nothing."""
    said = _said(job, inks)
    light, paper = _light_of(said), _light_of(job.substrate)
    if light is None or paper is None:
        return None
    wanted = _level(light / np.maximum(paper, 1e-3), len(over_paper)) * under
    return difference(over_paper * under, wanted)


def _said(job: Job, inks: frozenset[str]) -> Colour | None:
    if len(inks) == 1:
        return job.ink(next(iter(inks))).colour
    return next((over.colour for over in job.overprints if over.inks == inks), None)


def _light_of(colour: Colour | None) -> np.ndarray | None:
    return None if colour is None or colour.values is None else colour_light(colour)
