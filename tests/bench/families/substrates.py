"""Families of other substrates, inks and cameras."""

from dataclasses import replace

from bench.families.case import Case, Draw, Family
from bench.families.layouts import BLOCK, SIX_FOR_MONO, SIX_SHAPES, rows_of
from bench.families.scenery import camera_of, case_of, usual_look
from bench.families.stock import DARK_BACKING, FOIL, KRAFT, job_of
from regscan.camera.camera import Mosaic
from regscan.job.layout import Cross, Diamond, Disc, Ring, Square, Triangle
from regscan.simulator.defects import Halftone
from regscan.simulator.look import Streak

_ON_FILM = {
    "white": Disc(0.7),
    "lemon": Square(0.6),
    "orange": Cross(0.7, 0.24),
    "silver": Ring(0.7, 0.35),
    "sky": Diamond(0.75, 0.75),
}
_ON_KRAFT = {
    "white": Square(0.6),
    "yellow": Triangle(0.75),
    "magenta": Ring(0.65, 0.3),
    "cyan": Cross(0.7, 0.24),
    "black": Disc(0.6),
}
_PALE = {
    "cream": Square(0.7),
    "blush": Ring(0.8, 0.4),
    "mist": Disc(0.8),
    "pearl": Diamond(0.9, 0.9),
    "black": Disc(0.6),
}
_TINTED = {
    "yellow": Square(1.2),
    "magenta": Disc(1.2),
    "cyan": Diamond(1.5, 1.5),
    "black": Disc(0.8),
    "green": Disc(1.4),
}
_ANGLES = {"yellow": 7.5, "magenta": 67.5, "cyan": 37.5, "green": 82.5}
_PATTERNS: tuple[Mosaic, ...] = ("rggb", "bggr", "grbg", "gbrg")


def _white_on_film(draw: Draw) -> Case:
    marks = rows_of(_ON_FILM)
    told = job_of(marks, substrate=DARK_BACKING, reference="white", opaque=tuple(_ON_FILM))
    return case_of(draw, told, look=usual_look(draw.any))


def _colours_on_white(draw: Draw) -> Case:
    # What lies on white is as opaque to the dark below as white itself.
    told = job_of(BLOCK, substrate=DARK_BACKING, opaque=tuple(mark.ink for mark in BLOCK))
    return case_of(draw, told, look=usual_look(draw.any), camera=camera_of(draw.lasting, 0.013))


def _kraft(draw: Draw) -> Case:
    told = job_of(rows_of(_ON_KRAFT), substrate=KRAFT, opaque=("white",))
    grain = {"grain_grey": float(draw.any.uniform(1.5, 3.0)), "grain_um": 120.0}
    return case_of(draw, told, look=replace(usual_look(draw.any), **grain))


def _foil(draw: Draw) -> Case:
    told = job_of(rows_of(SIX_SHAPES), substrate=FOIL)
    look = usual_look(draw.any)
    streak = Streak(
        gain=float(draw.any.uniform(0.5, 2.5)),
        width_mm=float(draw.any.uniform(0.3, 0.9)),
        aside_mm=float(draw.any.uniform(-1.5, 1.5)),
        turn_deg=float(draw.any.uniform(-90.0, 90.0)),
    )
    sensor = replace(look.sensor, exposure=0.7)
    return case_of(
        draw,
        told,
        look=replace(look, streaks=(streak,), sensor=sensor, grain_grey=1.5, grain_um=40.0),
    )


def _tints(draw: Draw) -> Case:
    told = job_of(rows_of(_TINTED, pitch_mm=2.2))
    screens = tuple(
        Halftone(
            ink,
            tint=float(draw.any.uniform(0.3, 0.7)),
            lines_per_cm=(54.0, 60.0, 70.0)[draw.number % 3],
            angle_deg=angle,
            phase=(float(draw.any.uniform()), float(draw.any.uniform())),
        )
        for ink, angle in _ANGLES.items()
    )
    return case_of(draw, told, look=replace(usual_look(draw.any), defects=screens))


def _pale(draw: Draw) -> Case:
    return case_of(draw, job_of(rows_of(_PALE)), look=usual_look(draw.any))


def _mono(draw: Draw) -> Case:
    look = usual_look(draw.any)
    told = job_of(rows_of(SIX_FOR_MONO, pitch_mm=1.9))
    return case_of(draw, told, look=replace(look, sensor=replace(look.sensor, mono=True)))


def _mosaic(draw: Draw) -> Case:
    tone = "linear" if draw.number % 8 >= 4 else "srgb"
    camera = replace(camera_of(draw.lasting), mosaic=_PATTERNS[draw.number % 4], tone=tone)
    return case_of(draw, job_of(rows_of(SIX_SHAPES)), look=usual_look(draw.any), camera=camera)


def _deep(draw: Draw) -> Case:
    look = usual_look(draw.any)
    sensor = replace(look.sensor, bits=16, noise_grey=float(draw.any.uniform(0.3, 0.9)))
    camera = replace(camera_of(draw.lasting), tone=("srgb", "linear")[draw.number % 2])
    told = job_of(rows_of(SIX_SHAPES))
    return case_of(draw, told, look=replace(look, sensor=sensor), camera=camera)


FAMILIES = (
    Family(
        "white on clear film",
        "substrates",
        "opaque white, lemon, orange, silver and sky on clear film over a dark backing",
        _white_on_film,
    ),
    Family(
        "colours on a white block",
        "substrates",
        "film over a dark backing with white as a block in the layout, the colours on it",
        _colours_on_white,
    ),
    Family("kraft", "substrates", "opaque white and process inks on grainy brown kraft", _kraft),
    Family(
        "foil with a streak",
        "substrates",
        "metallic foil with fine grain; the lamp's streak, partly beyond full scale, anywhere",
        _foil,
    ),
    Family(
        "tints",
        "substrates",
        "marks screened at 30-70 %, 54-70 lines/cm, the screen anywhere against the mark; black "
        "solid",
        _tints,
        variants=3,
    ),
    Family("pale inks", "substrates", "cream, blush, mist and pearl on white paper", _pale),
    Family("mono camera", "substrates", "six inks of six shapes seen in one channel", _mono),
    Family(
        "raw mosaic",
        "substrates",
        "all four patterns, linear and sRGB tone, six inks",
        _mosaic,
        variants=8,
    ),
    Family("16 bit", "substrates", "16-bit pixels with noise 0.3-0.9 of 255", _deep),
)
