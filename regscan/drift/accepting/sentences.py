"""What has changed, in sentences a press engineer would sign."""

from collections.abc import Sequence

from regscan.drift.comparison import Compared, MetresCompared
from regscan.drift.words import lies
from regscan.job.job import AXES

SIDES: dict[str, tuple[str, str]] = {
    "circumferential": ("later", "earlier"),
    "lateral": ("toward the drive side", "toward the operator side"),
}


def sentences_of(compared: Sequence[Compared], metres: Sequence[MetresCompared]) -> tuple[str, ...]:
    """One per kind of change, in print order; one in all where nothing has changed."""
    changed = [one for one in compared if one.changed]
    if not compared:
        return ("Nothing could be compared.",)
    if not changed:
        return (f"Nothing has changed beyond doubt ({len(compared)} comparisons).",)
    order = sorted(_clearest(changed), key=lambda one: (one.station, one.axis, one.p))
    touched = {(one.station, one.axis, one.camera, one.edge) for one in changed}
    follow = [m for m in metres if (m.station, m.axis, m.camera, m.edge) in touched]
    return (*(_sentence(one) for one in order), *(s for m in follow if (s := _metres(m))))


def _clearest(changed: Sequence[Compared]) -> list[Compared]:
    """Of what has changed alike in several ramps or holds, the surest one."""
    best: dict[tuple[object, ...], Compared] = {}
    for one in changed:
        key = one.station, one.axis, one.camera, one.edge, one.what, one.detail
        if key not in best or one.p < best[key].p:
            best[key] = one
    return list(best.values())


def _who(one: Compared | MetresCompared) -> str:
    seen = " ".join(part for part in (one.camera, one.edge) if part)
    return f"Station {one.station} {one.ink}, {one.axis}" + (f" ({seen})" if seen else "")


def _sentence(one: Compared) -> str:
    who, doubt = _who(one), f"±{one.sd:.3f}"
    if one.what == "setting":
        axis = next((axis for axis in AXES if axis == one.axis), AXES[0])
        moved = one.now - one.before
        way = SIDES[axis][moved < 0]
        prints = f"prints {abs(moved):.3f} mm {way} on the whole ({doubt} mm)"
        return f"{who}: {prints}: {lies(axis, one.now)}, was {lies(axis, one.before)}."
    if one.what == "noise":
        ratio = one.now / one.before
        more = f"{ratio:.1f} times" if ratio > 1 else f"1/{1 / ratio:.1f} of"
        return f"{who}: scatters {more} what it did: {one.now:.4f} mm, was {one.before:.4f} mm."
    if one.what == "worst excursion":
        sizes = f"{one.now:.3f} mm, was {one.before:.3f} mm"
        return f"{who}: strays up to {sizes}, from {one.detail} ({doubt} mm)."
    if one.what == "term":
        sizes = f"{one.now:+.4g}, was {one.before:+.4g} {one.unit} (±{one.sd:.2g} {one.unit})"
        return f"{who}: {one.detail}: {sizes}."
    sizes = f"{one.now:+.3f} mm, was {one.before:+.3f} mm ({doubt} mm)"
    return f"{who}: from {one.detail} it moves {sizes}."


def _metres(one: MetresCompared) -> str:
    if one.now_m is None or one.before_m is None or one.now_m == one.before_m:
        return ""
    return f"{_who(one)}: {one.now_m:.1f} m of web outside tolerance, was {one.before_m:.1f} m."
