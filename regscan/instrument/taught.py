"""What was learnt from the frames of an approved sheet, and how sure it is: plain records."""

from dataclasses import dataclass
from typing import Literal

from regscan.job.layout import Approved

Rgb = tuple[float, float, float]
Found = Literal["by the job's colours", "by layout and shape"]


@dataclass(frozen=True, slots=True)
class TaughtColour:
    """One colour as the camera sees it.

    camera      red, green, blue as shares of full scale, linear light (mono: three alike).
    spread      how far single frames lie from it, rms, in CIEDE2000 units; None for one frame.
    difference  CIEDE2000 from what the job said before; None where it said nothing.
    frames      frames it was read in.
    pixels      pixels of pure colour, in the median frame.
    """

    camera: Rgb
    spread: float | None
    difference: float | None
    frames: int
    pixels: int


@dataclass(frozen=True, slots=True)
class TaughtMark:
    """One ink's mark of one web edge on the approved sheet.

    approved    its offset from the design against the reference; None where it was not
                seen well enough, or is the reference.
    spread_mm   (circumferential, lateral) sd of single frames; None for one frame.
    frames      frames in which it was good.
    shown       frames whose camera and edge should show it.
    area_ratio  inked area over the design's, median.
    lacking, beyond   shares of the design's area that are not printed, or printed well
                outside it; median, None where the mark never shows alone.
    """

    ink: str
    edge: str
    approved: Approved | None
    spread_mm: tuple[float, float] | None
    frames: int
    area_ratio: float | None
    shown: int = 0
    lacking: float | None = None
    beyond: float | None = None


@dataclass(frozen=True)
class Taught:
    """Everything learnt. Inks in print order, marks in the order of the job.

    found     how the marks were told apart at first.
    frames    frames used.
    remarks   what does not fit, in words, most important first.
    """

    substrate: TaughtColour
    inks: dict[str, TaughtColour]
    overprints: dict[frozenset[str], TaughtColour]
    marks: tuple[TaughtMark, ...]
    found: Found
    frames: int
    remarks: tuple[str, ...] = ()
