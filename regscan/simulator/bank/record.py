"""What is recorded of a run: offsets with noise, frames and marks that are missing, the log."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.job.job import Job
from regscan.recording.speedlog import SpeedLog
from regscan.simulator.bank.plan import Limit
from regscan.simulator.bank.stage import Stage
from regscan.simulator.press.effects import Effect
from regscan.simulator.press.logbook import LogFlaws, speed_log_of
from regscan.simulator.press.loss import lost_marks
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.noise import Noise, scatter
from regscan.simulator.press.rows import Sight

LATERAL_SHARE = 0.7
LOST_MARKS, DOUBTFUL_MARKS, DOUBTFUL_TIMES = 0.003, 0.006, 4.0


@dataclass(frozen=True)
class Clock:
    """What is known of when and where each frame was taken; NaN where it is not."""

    log: SpeedLog | None
    flaws: LogFlaws
    time_s: np.ndarray
    web_m: np.ndarray
    speed_m_min: np.ndarray
    web_from: str


def clock_of(stage: Stage, limit: Limit, rng: np.random.Generator) -> Clock:
    """The log and the frames' places: from the press's encoder unless the limit says otherwise."""
    profile, web = stage.profile, stage.frames.web_m
    flaws = LogFlaws(
        pitch_s=float(rng.choice([0.5, 1.0])),
        noise_m_min=float(rng.uniform(0.05, 0.4)),
        gaps=_gap(profile.duration_s, rng) if limit == "gap in the log" else (),
        shift_s=float(rng.choice([-1, 1]) * rng.uniform(2.0, 12.0))
        if limit == "log clock shifted"
        else 0.0,
    )
    log = speed_log_of(profile, flaws, rng)
    time = np.round(profile.time_at(web), 4)
    if limit == "no speed log":
        unknown = np.full(web.shape, np.nan)
        return Clock(None, flaws, time, web, unknown, "encoder")
    from_log = limit == "web metres from the log"
    metres = np.asarray(log.web_at(time)) if from_log else web
    speed = np.asarray(log.speed_at(time))
    return Clock(log, flaws, time, metres, speed, "log" if from_log else "encoder")


def _gap(duration_s: float, rng: np.random.Generator) -> tuple[tuple[float, float], ...]:
    start = float(rng.uniform(0.2, 0.7)) * duration_s
    return ((start, start + float(rng.uniform(8.0, 30.0))),)


def kept_frames(count: int, limit: Limit, rng: np.random.Generator) -> np.ndarray:
    """Which frames are there: nearly all, but for a few and now and then a burst."""
    kept = rng.random(count) > (0.5 if limit == "half the frames missing" else 0.003)
    if rng.random() < 0.2:
        start = int(rng.integers(count))
        kept[start : start + int(rng.integers(3, 12))] = False
    # Without first and last the run's own ends would not be known.
    kept[[0, -1]] = True
    return kept


def states(
    machine: Machine, stage: Stage, effects: Sequence[Effect], rng: np.random.Generator
) -> np.ndarray:
    """stations x frames of ok, doubtful, missing. Without the reference there is no offset."""
    shape = machine.stations, stage.frames.web_m.size
    draw = rng.random(shape)
    state = np.where(draw < LOST_MARKS + DOUBTFUL_MARKS, "doubtful", "ok").astype("U8")
    lost = draw < LOST_MARKS
    lost |= lost_marks(machine, effects, stage.frames.web_m, stage.frames.camera, rng)
    state[lost] = "missing"
    state[:, lost[machine.reference]] = "missing"
    state[machine.reference, state[machine.reference] == "doubtful"] = "ok"
    return state


@dataclass(frozen=True)
class Recorder:
    """All that turns true offsets into rows."""

    job: Job
    machine: Machine
    stage: Stage
    clock: Clock
    noise: Noise
    kept: np.ndarray

    def sight(
        self,
        edge: str,
        true_um: tuple[np.ndarray, np.ndarray],
        state: np.ndarray,
        rng: np.random.Generator,
    ) -> Sight:
        """One mark set's offsets with noise; true_um is stations x frames on both axes."""
        kept, reference = self.kept, self.machine.reference
        extra = self.noise.measure_um * np.sqrt(DOUBTFUL_TIMES**2 - 1.0)
        seen = []
        for true, share in zip(true_um, (1.0, LATERAL_SHARE), strict=True):
            noise = scatter(self.noise.share(share), self.stage.frames.web_m, len(true), rng)
            doubtful = np.where(state == "doubtful", share * extra, 0.0)
            noise += doubtful * rng.standard_normal(true.shape)
            seen.append((true + noise - noise[reference])[:, kept] / 1000.0)
        sd = np.full(state.shape, np.sqrt(2.0) * self.noise.measure_um / 1000.0)
        sd[state == "doubtful"] *= DOUBTFUL_TIMES
        sd[reference] = 0.0
        stations = self.job.press.stations
        return Sight(
            frame=self.names(edge),
            time_s=self.clock.time_s[kept],
            web_m=self.clock.web_m[kept],
            speed_m_min=self.clock.speed_m_min[kept],
            camera=self.stage.frames.camera,
            edge=edge,
            stations=[s.number for s in stations],
            inks=[s.ink for s in stations],
            status=state[:, kept],
            circumferential_mm=seen[0],
            lateral_mm=seen[1],
            sd_mm=sd[:, kept],
        )

    def names(self, edge: str) -> list[str]:
        """File names of the frames that are there."""
        tail = f"_{edge}.png" if edge else ".png"
        return [f"{k + 1:05d}{tail}" for k in np.flatnonzero(self.kept).tolist()]

    def along_rows(self, both_um: Sequence[np.ndarray]) -> np.ndarray:
        """mm along the rows of the table from stations x frames um of each mark set."""
        moment = np.concatenate(
            [np.repeat(self.clock.time_s[self.kept], len(um)) for um in both_um]
        )
        values = np.concatenate([um[:, self.kept].T.ravel() for um in both_um]) / 1000.0
        return np.asarray(values[np.argsort(moment, kind="stable")])
