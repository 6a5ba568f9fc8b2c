"""Studies to gauges, and the short verdict over all of them."""

import math
from collections.abc import Mapping, Sequence

import numpy as np

from regscan.errors import BadStudy, Problem
from regscan.instrument.gauge.anova import Components, Square, crossed, one_setup
from regscan.instrument.gauge.arrange import View
from regscan.instrument.gauge.gauge import (
    FEWEST_CATEGORIES,
    Band,
    Drift,
    Gauge,
    Kind,
    Method,
    band_of,
)
from regscan.instrument.gauge.line import straight_line
from regscan.instrument.gauge.ranges import MOST, by_ranges
from regscan.instrument.gauge.study import Study
from regscan.job.job import Job

_LEVEL = 0.99  # of the drift's test
_INTERVAL = 0.95

ADVISED_PARTS, ADVISED_SETUPS, ADVISED_TRIALS, ADVISED_REPEATS = 10, 3, 3, 25


def judge(
    studies: Mapping[View, Study], job: Job, method: Method, source: str
) -> tuple[Gauge, ...]:
    """One gauge per study. Raises BadStudy where the method cannot deal with its size."""
    first = next(iter(studies.values()))
    largest = max(first.values_mm.shape)
    if method == "ranges" and (largest > MOST or first.values_mm.shape[0] < 2):
        what = (
            f"ranges of {largest} values waste what they say"
            if largest > MOST
            else "repeats of one standing web have no ranges of trials"
        )
        raise BadStudy(source, Problem("--method", what, "use --method anova"))
    return tuple(_gauge(view, study, job, method) for view, study in studies.items())


def _gauge(view: View, study: Study, job: Job, method: Method) -> Gauge:
    parts, setups, trials = study.values_mm.shape
    components = _components(study.values_mm, method)
    low, high = _interval(components)
    return Gauge(
        view=view,
        kind=_kind(parts, setups),
        method=method,
        parts=parts,
        setups=setups,
        trials=trials,
        tolerance_mm=job.tolerance_for(view.ink).of(view.axis),
        components=components,
        grr_low_mm=low,
        grr_high_mm=high,
        drift=drift_of(study),
    )


def _kind(parts: int, setups: int) -> Kind:
    if parts == 1:
        return "standing web"
    return "crossed" if setups > 1 else "one set-up"


def _components(values: np.ndarray, method: Method) -> Components:
    parts, setups, trials = values.shape
    if parts == 1:
        sd = float(values.std(ddof=1))
        return Components(sd, None, None, None, grr_terms=(Square(sd**2, trials - 1),))
    if method == "ranges":
        return by_ranges(values)
    return crossed(values) if setups > 1 else one_setup(values[:, 0])


def _interval(components: Components) -> tuple[float | None, float | None]:
    """95 % interval of the GRR standard deviation.

    Graybill and Wang's for a sum of mean squares (1980, from memory; its coverage is
    simulated in the tests). With one term it is the exact chi-squared interval.
    """
    if not components.grr_terms:
        return None, None
    from scipy.stats import chi2

    tail = (1.0 - _INTERVAL) / 2.0
    middle = sum(term.value for term in components.grr_terms)
    down, up = 0.0, 0.0
    for term in components.grr_terms:
        low, high = (float(chi2.ppf(p, term.freedom)) / term.freedom for p in (tail, 1.0 - tail))
        down += (term.value * (1.0 - 1.0 / high)) ** 2
        up += (term.value * (1.0 / low - 1.0)) ** 2
    low_mm = math.sqrt(max(middle - math.sqrt(down), 0.0))
    # A component cut off at zero leaves the estimate above the plain sum.
    return min(low_mm, components.grr), max(math.sqrt(middle + math.sqrt(up)), components.grr)


def drift_of(study: Study) -> Drift:
    """The trend over the order of the frames, with each part and set-up about its mean."""
    from scipy.stats import t

    values, order = study.values_mm, study.order.astype(float)
    cells = values.shape[0] * values.shape[1]
    about = (values - values.mean(axis=2, keepdims=True)).ravel()
    when = (order - order.mean(axis=2, keepdims=True)).ravel()
    line = straight_line(when, about, lost=cells + 1)
    length = float(np.ptp(order))
    total, sd = line.slope * length, line.slope_sd * length
    limit = float(t.ppf(0.5 + _LEVEL / 2.0, line.freedom))
    return Drift(total, sd, abs(total) > limit * sd)


def verdict(gauges: Sequence[Gauge]) -> tuple[Band, str]:
    """The worst band over all colours and axes, and a sentence."""
    worst = max(gauges, key=lambda gauge: gauge.grr_percent)
    name = f"{worst.view.ink}, {worst.view.axis}"
    limit = f"±{worst.tolerance_mm:.3f} mm"
    share = f"{worst.grr_percent:.1f} % of the tolerance of {limit}"
    answer = {
        "acceptable": "Good enough for this tolerance",
        "may be acceptable": "May be good enough, depending on what hangs on it",
        "not acceptable": "Not good enough for this tolerance",
    }[worst.band]
    what = "repeatability" if worst.components.setup is None else "%GRR"
    return worst.band, f"{answer}: at worst ({name}) {what} is {share}."


def remarks(gauges: Sequence[Gauge], not_seen: Sequence[str]) -> list[str]:
    """What the study cannot say, and what it says beside the verdict."""
    first = gauges[0]
    lines = [f"{name}: not measured in any frame, so not judged" for name in not_seen]
    if first.kind == "standing web":
        lines.append(
            "one standing web: repeatability alone; what another set-up or position changes is"
            " not studied"
        )
        if first.trials < ADVISED_REPEATS:
            lines.append(f"{first.trials} frames; {ADVISED_REPEATS} or more make a surer sd")
    if first.kind == "one set-up":
        lines.append("one set-up only: reproducibility is not studied")
    if first.kind != "standing web":
        lines += _small(first)
        lines += _categories(gauges)
    lines += [
        f"{name_of(g)} drifts {g.drift.total_mm:+.4f} ±{g.drift.sd_mm:.4f} mm over the study: let"
        " lamp and camera warm up, then repeat"
        for g in gauges
        if g.drift.significant
    ]
    open_ = [g for g in gauges if g.grr_high_mm is not None and _undecided(g)]
    if open_:
        far = max(g.of_tolerance(g.grr_high_mm or 0.0) for g in open_)
        lines.append(
            f"the 95 % interval of GRR reaches into a worse band, up to {far:.0f} % of the"
            f" tolerance, for {'; '.join(map(name_of, open_))}: more set-ups or repeats would"
            " decide"
        )
    return lines


def name_of(gauge: Gauge) -> str:
    """What to call a gauge: "cyan, lateral", with camera and edge where there are several."""
    places = [p for p in (gauge.view.camera, gauge.view.edge) if p]
    return f"{gauge.view.ink}, {gauge.view.axis}" + (f" ({', '.join(places)})" if places else "")


def _undecided(gauge: Gauge) -> bool:
    """Whether the interval reaches into a worse band."""
    high = gauge.grr_high_mm or 0.0
    return band_of(gauge.of_tolerance(high)) != gauge.band


def _small(gauge: Gauge) -> list[str]:
    wanted = (
        (gauge.parts, ADVISED_PARTS, "positions"),
        (gauge.setups, ADVISED_SETUPS, "set-ups"),
        (gauge.trials, ADVISED_TRIALS, "trials"),
    )
    few = [f"{have} {name} ({want} usual)" for have, want, name in wanted if 1 < have < want]
    return [f"a small study: {', '.join(few)}"] if few else []


def _categories(gauges: Sequence[Gauge]) -> list[str]:
    few = [g for g in gauges if g.categories is not None and g.categories < FEWEST_CATEGORIES]
    if not few:
        return []
    names = "; ".join(name_of(g) for g in few)
    return [
        f"fewer than {FEWEST_CATEGORIES} distinct categories ({names}): the positions of this"
        " study differ too little to be told apart. That says nothing against the camera where"
        " %GRR of the tolerance is small"
    ]
