"""How the stations behaved along the run: terms that the data support, and what moved together.

Plain frozen records, ready for run.json; what is not known is None. Circumferential and skew:
+ is late, or the drive-side end late. Lateral: + toward the drive side. Width: + the marks of
this colour lie further apart than the reference's.
"""

from dataclasses import dataclass
from typing import Literal

Channel = Literal["circumferential", "lateral", "skew", "width"]
TermKind = Literal[
    "speed",
    "speed above",
    "speed at the camera",
    "acceleration",
    "two levels",
    "warm-up",
    "dose",
    "drift",
    "step",
    "passing strain",
    "passing shift",
    "blip",
    "period in metres",
    "period in seconds",
    "turn of the roll",
    "round the repeat",
]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with one standard deviation and the interval that holds it 95 times in 100."""

    value: float
    sd: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Setting:
    """What a term's shape is measured by: tau_s, at_m, onset_m_min, wavelength_m ..."""

    name: str
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class Term:
    """One term of one station.

    size      in `unit`: mm for steps, levels and what warms up; mm per m/min, per m/s2, per
              km; the amplitude for a period; ppm of strain for what passes.
    moves_mm  by how much it moves the print within this run, from least to most.
    """

    kind: TermKind
    size: Estimate
    unit: str
    settings: tuple[Setting, ...]
    moves_mm: float


@dataclass(frozen=True, slots=True)
class Behaviour:
    """One station in one channel: its level, its terms, and the noise about them.

    level                     where the print would be without any term.
    noise_mm                  one standard deviation of a single frame about the model.
    frames_per_independent    how many frames are worth one independent frame.
    """

    station: int
    ink: str
    channel: Channel
    level: Estimate
    terms: tuple[Term, ...]
    noise_mm: float
    frames_per_independent: float


@dataclass(frozen=True, slots=True)
class Rival:
    """Another reading of a movement, and how much worse it explains the data.

    behind   squared misfit more than the best, in units of the noise; 0 is as good.
    """

    kind: TermKind
    pattern: str
    station: int | None
    behind: float


@dataclass(frozen=True, slots=True)
class Finding:
    """What moved together, over stations.

    pattern    one, stair, fan, twist ... (docs/how/causes.md); station: the one it is named by.
    stations   those that move, in print order.
    reference  True when the reference is among them: the others then seem to move back.
    term       its size at the station that moves most.
    gain       squared misfit it takes away, in units of the noise.
    """

    channel: Channel
    kind: TermKind
    pattern: str
    station: int | None
    stations: tuple[int, ...]
    reference: bool
    term: Term
    gain: float
    rivals: tuple[Rival, ...]


@dataclass(frozen=True, slots=True)
class Alias:
    """How a turning part that the job names would show in this run's frames.

    name, station, girth_mm   as in the job; station None where it belongs to none.
    shows      "wave" at `seen_m`; "constant": invisible with one mark per repeat; "drift":
               too slow a beat to be told from a trend; "scatter": too near every other frame.
    seen_m     metres of web from crest to crest as the frames show it.
    finding    position in Behaviours.findings of the wave it fits, None where none does.
    off        how far that wave's length lies off, in the doubt of both.
    """

    name: str
    station: int | None
    girth_mm: float
    shows: Literal["wave", "constant", "drift", "scatter"]
    seen_m: float | None
    finding: int | None
    off: float | None


@dataclass(frozen=True, slots=True)
class Behaviours:
    """All that was found about the run's movements.

    camera     the one whose frames were used; edges: the web edges taken together.
    untold     what cannot be told apart with this run, and the run that would decide.
    reduced    what was wanting in this run, and what could not be looked for without it.
    clock_shift_s   how much later the speed log's clock shows the same moment than that of
               the frames, where the offsets themselves tell; the model allows for it.
    """

    camera: str
    edges: tuple[str, ...]
    stations: tuple[Behaviour, ...]
    findings: tuple[Finding, ...]
    untold: tuple[str, ...]
    reduced: tuple[str, ...] = ()
    clock_shift_s: Estimate | None = None
    aliases: tuple[Alias, ...] = ()
