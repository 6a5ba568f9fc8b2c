"""The picture of a gauge study: every %GRR beside its bands, and the worst study's values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.instrument.gauge.arrange import View
from regscan.instrument.gauge.gauge import ACCEPTABLE, MARGINAL, Band, Gauge
from regscan.instrument.gauge.judge import name_of, verdict
from regscan.instrument.gauge.study import Study
from regscan.instrument.gauge.svg import FAINT, RULE, SOFT, Letters, Stroke, Svg, wrapped

WIDTH = 1000.0
_ROW = 26.0
_LEFT, _BARS, _TOP = 230.0, 170.0, 92.0
_CHART = (560.0, 416.0, 190.0)  # left, width, height
_AXIS = Letters(11.5, "end", SOFT)
_SIGNS: dict[Band, str] = {"acceptable": "✓", "may be acceptable": "?", "not acceptable": "✗"}


def gauge_picture(gauges: Sequence[Gauge], studies: Mapping[View, Study], title: str) -> str:
    """An SVG file: bars for every colour and axis, and the values of the worst."""
    worst = max(gauges, key=lambda gauge: gauge.grr_percent)
    study = studies[worst.view]
    standing = worst.kind == "standing web"
    height = max(_TOP + 60.0 + _ROW * len(gauges), _TOP + (280.0 if standing else 540.0))
    svg = Svg(WIDTH, height)
    _, sentence = verdict(gauges)
    svg.words((24.0, 34.0), title, Letters(16.0, bold=True))
    for k, line in enumerate(wrapped(sentence, 130)):
        svg.words((24.0, 58.0 + 18.0 * k), line)
    _bars(svg, gauges)
    left, width, tall = _CHART
    if not standing:
        _by_position(svg, worst, study, Panel(left, _TOP + 16.0, width, tall))
    _over_time(svg, worst, study, Panel(left, _TOP + (16.0 if standing else 290.0), width, tall))
    return svg.text(f"{title}. {sentence}")


@dataclass(frozen=True, slots=True)
class Panel:
    """Where a chart lies, drawing units."""

    left: float
    top: float
    width: float
    height: float


def _bars(svg: Svg, gauges: Sequence[Gauge]) -> None:
    """%GRR of the tolerance: the filled part is repeatability, the thin line its interval."""
    top = max([MARGINAL * 1.15, *(gauge.grr_percent * 1.1 for gauge in gauges)])
    scale = _BARS / top
    bottom = _TOP + 18.0 + _ROW * len(gauges)
    svg.words((24.0, _TOP), "%GRR of the tolerance", Letters(bold=True))
    for limit in (ACCEPTABLE, MARGINAL):
        x = _LEFT + limit * scale
        svg.line((x, _TOP + 8.0), (x, bottom), Stroke(SOFT, 1.0, "4 3"))
        svg.words((x, bottom + 16.0), f"{limit:.0f} %", Letters(12.0, "middle", SOFT))
    for k, gauge in enumerate(gauges):
        y = _TOP + 18.0 + _ROW * k
        svg.words((24.0, y + 13.0), name_of(gauge))
        whole, own = gauge.grr_percent, gauge.of_tolerance(gauge.components.repeatability)
        svg.box((_LEFT, y + 3.0), (whole * scale, 12.0), FAINT, SOFT)
        svg.box((_LEFT, y + 3.0), (min(own, whole) * scale, 12.0), SOFT)
        if gauge.grr_low_mm is not None and gauge.grr_high_mm is not None:
            ends = [
                min(gauge.of_tolerance(v), top) * scale
                for v in (gauge.grr_low_mm, gauge.grr_high_mm)
            ]
            svg.line((_LEFT + ends[0], y + 9.0), (_LEFT + ends[1], y + 9.0), Stroke(width=1.6))
            if gauge.of_tolerance(gauge.grr_high_mm) > top:
                svg.words((_LEFT + ends[1] - 3.0, y + 13.0), "▸", Letters(13.0))
        svg.words((_LEFT + _BARS + 62.0, y + 13.0), f"{whole:.1f} %", Letters(anchor="end"))
        svg.words((_LEFT + _BARS + 70.0, y + 13.0), _SIGNS[gauge.band], Letters(bold=True))
    signs = ", ".join(f"{sign} {band}" for band, sign in _SIGNS.items())
    note = f"dark: repeatability; light: with reproducibility; line: 95 % interval. {signs}"
    for k, line in enumerate(wrapped(note, 76)):
        svg.words((24.0, bottom + 38.0 + 15.0 * k), line, Letters(11.5, colour=SOFT))


def _by_position(svg: Svg, gauge: Gauge, study: Study, panel: Panel) -> None:
    """Every value off its position's mean, one kind of mark per set-up."""
    off = study.values_mm - study.values_mm.mean(axis=(1, 2), keepdims=True)
    _frame(svg, panel, f"{name_of(gauge)}: µm off each position's mean", off)
    svg.words((panel.left + panel.width, panel.top + panel.height + 36.0), "position", _AXIS)
    slot = panel.width / len(study.parts)
    for p, part in enumerate(study.parts):
        x = panel.left + (p + 0.5) * slot
        if len(study.parts) <= 24:
            svg.words((x, panel.top + panel.height + 15.0), part[:8], Letters(11.0, "middle", SOFT))
        for s in range(len(study.setups)):
            shift = (s - (len(study.setups) - 1) / 2.0) * min(slot / len(study.setups) * 0.7, 12.0)
            for value in off[p, s]:
                svg.mark((x + shift, _height(panel, off, value)), s, 3.2)
    if len(study.setups) > 1:
        _key(svg, study.setups, panel)


def _key(svg: Svg, setups: Sequence[str], panel: Panel) -> None:
    x, y = panel.left, panel.top + panel.height + 36.0
    for s, setup in enumerate(setups[:6]):
        svg.mark((x + 4.0, y - 4.0), s, 3.2)
        svg.words((x + 13.0, y), setup[:14], Letters(11.5, colour=SOFT))
        x += 24.0 + 6.6 * min(len(setup), 14)


def _over_time(svg: Svg, gauge: Gauge, study: Study, panel: Panel) -> None:
    """Every value off the mean of its position and set-up, first to last."""
    off = study.values_mm - study.values_mm.mean(axis=2, keepdims=True)
    by = "frame" if gauge.kind == "standing web" else "trial"
    _frame(svg, panel, f"{name_of(gauge)}: µm, {by} by {by}", off)
    svg.words((panel.left + panel.width, panel.top + panel.height + 18.0), by, _AXIS)
    order = study.order.astype(float)
    low, length = float(order.min()), max(float(np.ptp(order)), 1.0)

    def place(at: float) -> float:
        return panel.left + 8.0 + (at - low) / length * (panel.width - 16.0)

    for at, value in zip(order.ravel(), off.ravel(), strict=True):
        svg.mark((place(at), _height(panel, off, value)), 0, 2.4)
    drift = gauge.drift
    ends = [(low, -drift.total_mm / 2.0), (low + length, drift.total_mm / 2.0)]
    points = [(place(at), _height(panel, off, value)) for at, value in ends]
    svg.line(points[0], points[1], Stroke(width=2.0, dash="" if drift.significant else "6 4"))
    said = f"trend {1000 * drift.total_mm:+.2f} ±{1000 * drift.sd_mm:.2f} µm over the study"
    said += ": more than chance" if drift.significant else ": no more than chance"
    svg.words((panel.left, panel.top + panel.height + 18.0), said, Letters(12.0, colour=SOFT))


def _frame(svg: Svg, panel: Panel, title: str, off: np.ndarray) -> None:
    """The chart's ground: title, zero line and a scale on both sides of it, µm."""
    svg.words((panel.left, panel.top - 8.0), title, Letters(bold=True))
    svg.box((panel.left, panel.top), (panel.width, panel.height), "none", RULE)
    step = _round_step(_reach(off))
    for k in range(-6, 7):
        y = _height(panel, off, k * step)
        if panel.top <= y <= panel.top + panel.height:
            svg.line(
                (panel.left, y), (panel.left + panel.width, y), Stroke(RULE, 1.6 if k == 0 else 0.7)
            )
            label = f"{1000 * k * step:+g}" if k else "0"
            svg.words((panel.left - 6.0, y + 4.0), label, Letters(11.0, "end", SOFT))


def _reach(off: np.ndarray) -> float:
    return max(float(np.abs(off).max()) * 1.08, 1e-6)


def _round_step(reach: float) -> float:
    """About half the reach, as 1, 2 or 5 times a power of ten; mm."""
    power = 10.0 ** np.floor(np.log10(reach / 2.0))
    return float(max(power * k for k in (1, 2, 5) if power * k <= reach / 2.0 * 1.001))


def _height(panel: Panel, off: np.ndarray, value: float) -> float:
    half = panel.height / 2.0
    return panel.top + half - value / _reach(off) * half
