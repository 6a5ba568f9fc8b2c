"""Look: everything about a drawn frame that is not its truth. Frozen settings with units.

The defaults draw a clean, well lit, slightly soft frame without noise.
"""

from dataclasses import dataclass

from regscan.job.job import Colour
from regscan.simulator.defects import Defect


@dataclass(frozen=True, slots=True)
class Print:
    """How the ink sits on the web. Amplitudes of 0 switch a defect off.

    roughness_um          rms wander of the printed edge along its normal.
    roughness_length_um   distance over which that wander loses its memory (falls to 1/e).
    gain_um               how far every edge spreads outward (dot gain).
    rim                   squeeze-out: extra ink film in the rim, share of the film (0.5 = +50 %).
    rim_um                width of that rim, inward from the edge.
    pinholes_per_mm2      unprinted spots within the inked area.
    pinhole_um            their mean diameter.
    """

    roughness_um: float = 0.0
    roughness_length_um: float = 40.0
    gain_um: float = 0.0
    rim: float = 0.0
    rim_um: float = 30.0
    pinholes_per_mm2: float = 0.0
    pinhole_um: float = 25.0


@dataclass(frozen=True, slots=True)
class Lens:
    """How light reaches the sensor.

    blur_px          Gaussian softness of every edge, one sigma in px (the pixel's own
                     square comes on top).
    strobe_us        length of the flash; with the frame's speed it smears along the web.
    slope_grey       how much the bare substrate brightens across the frame, grey levels of 255.
    slope_deg        direction of brightening: 0 toward larger columns, 90 toward larger rows.
    vignette_grey    how much darker the corners are than the middle, grey levels of 255.
    """

    blur_px: float = 1.0
    strobe_us: float = 0.0
    slope_grey: float = 0.0
    slope_deg: float = 30.0
    vignette_grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Streak:
    """The lamp's bright image on a shining substrate: a straight band across the frame.

    gain       light at its middle on top of the even light, as a share of that.
    width_mm   one sigma across.
    aside_mm   how far its middle line passes from the frame's middle.
    turn_deg   0 along the rows, turned clockwise.
    """

    gain: float
    width_mm: float = 0.8
    aside_mm: float = 0.0
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Jpeg:
    """A frame compressed by its camera.

    halved_chroma   True keeps colour at half the resolution (4:2:0), as most cameras do.
    """

    quality: int
    halved_chroma: bool = True


@dataclass(frozen=True, slots=True)
class Sensor:
    """How the sensor counts. Tone curve and mosaic pattern belong to the Camera.

    exposure       pixel value (share of full scale, linear light) of a perfect white.
    noise_grey     sd of the noise in grey levels of 255, after the tone curve.
    full_well      electrons at full scale, for shot noise; 0 leaves it out.
    bits           8 or 16.
    mono           True draws one grey channel.
    jpeg           compress and read back, 8 bits only; None keeps the pixels.
    """

    exposure: float = 0.85
    noise_grey: float = 0.0
    full_well: float = 0.0
    bits: int = 8
    mono: bool = False
    jpeg: Jpeg | None = None


@dataclass(frozen=True, slots=True)
class Patch:
    """Artwork: a filled rectangle of one ink that moves with its ink.

    The place is that of its middle, mm from the mark set's zero, as designed.
    """

    ink: str
    circumferential_mm: float
    lateral_mm: float
    length_mm: float
    width_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Specks:
    """Ink specks strewn over the frame at random.

    inks   inks they take by turns; empty: all visible inks of the job.
    """

    count: int = 0
    diameter_um: float = 60.0
    inks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Overprint:
    """The colour of these inks lying on each other, where multiplying would be wrong."""

    inks: frozenset[str]
    colour: Colour


@dataclass(frozen=True, slots=True)
class Look:
    """All settings of a drawn frame.

    grain_grey   rms of the substrate's own texture, grey levels of 255.
    grain_um     its correlation length.
    defects      of single inks' marks; artwork and specks have none.
    """

    print: Print = Print()
    lens: Lens = Lens()
    sensor: Sensor = Sensor()
    patches: tuple[Patch, ...] = ()
    specks: Specks = Specks()
    overprints: tuple[Overprint, ...] = ()
    grain_grey: float = 0.0
    grain_um: float = 60.0
    streaks: tuple[Streak, ...] = ()
    defects: tuple[Defect, ...] = ()


@dataclass(frozen=True, slots=True)
class Shot:
    """How and when one frame is taken.

    rows, cols   size of the frame, px.
    seed         of everything random in it; two frames of a run need two seeds.
    origin_px    (row, col) of the mark set's zero; None puts the design's marks mid-frame.
    speed_m_min  at the flash; None is a standing web.
    name, index, time_s, web_m, camera, edge   as in the frame's FrameInfo.
    """

    rows: int = 480
    cols: int = 640
    seed: int = 0
    origin_px: tuple[float, float] | None = None
    name: str = "drawn"
    index: int = 0
    time_s: float | None = None
    web_m: float | None = None
    speed_m_min: float | None = None
    camera: str = ""
    edge: str = ""
