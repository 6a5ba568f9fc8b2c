"""The one table of causes: what each looks like, why, what to check first, what would decide.

A sign is a way in which the cause shows; its weight is the logarithm of how usual that is, with
0 for the plainest. Signatures, reasons and checks are common practice of the trade or follow
from the mass balance of the web (docs/how/causes.md says which); no standard gives them.
"""

from dataclasses import dataclass

from regscan.drift.behaviour import Channel, TermKind

ONE = ("one",)
STAIR = ("stair", "span", "drum")
FAN = ("fan", "spans", "drums", "growing", "fan to", "fan from")
TWIST = ("twist",)
PASSING = ("strain", "pull")
ASIDE = ("side",)
ANY_STATIONS = ("one", "each")
SIDEWAYS = ("stair", "roller", "fan", "rollers", "one")


@dataclass(frozen=True, slots=True)
class Sign:
    """One way in which a cause shows.

    when   name of a further condition on the finding (regscan.drift.causes.conditions).
    with_  a condition on the other findings, with the weight it adds or (absent) costs.
    """

    channels: tuple[Channel, ...]
    kinds: tuple[TermKind, ...]
    patterns: tuple[str, ...]
    weight: float = 0.0
    when: str = ""


@dataclass(frozen=True, slots=True)
class Company:
    """What mostly comes along in another channel or kind.

    same_station   it is named by the same station (or both by none).
    found, absent  weights where it was found, and where it was not but could have been.
    least          it moves at least this share of what it comes along with.
    """

    channels: tuple[Channel, ...]
    kinds: tuple[TermKind, ...]
    patterns: tuple[str, ...] = ()
    same_station: bool = True
    found: float = 3.0
    absent: float = 0.0
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One cause of the table."""

    name: str
    title: str
    signs: tuple[Sign, ...]
    reason: str
    first_check: str
    deciding: str
    company: tuple[Company, ...] = ()


ALONG: tuple[Channel, ...] = ("circumferential",)
ACROSS: tuple[Channel, ...] = ("lateral",)
SKEW: tuple[Channel, ...] = ("skew",)
WIDTH: tuple[Channel, ...] = ("width",)
ALONG_OR_SKEW: tuple[Channel, ...] = ("circumferential", "skew")
STOPPED = "With the press stopped and isolated:"

DRIVE = (
    Entry(
        name="backlash",
        title="play in the gears",
        signs=(
            Sign(ALONG, ("two levels",), ONE),
            Sign(ALONG, ("two levels",), STAIR, -1.5),
        ),
        reason="two levels a fixed distance apart, changing with the direction of the ramp and "
        "not dying away: the other flank of a gear carries; its size is the same at every rate",
        first_check=f"{STOPPED} gear mesh and wear, seating and locking of the cylinder, and "
        "what drags on it.",
        deciding="ramps at two rates: play keeps its size, inertia grows with the rate",
    ),
    Entry(
        name="wind-up",
        title="twist of the drive shaft",
        signs=(
            Sign(ALONG, ("acceleration", "speed", "speed above"), TWIST),
            Sign(ALONG, ("acceleration", "speed"), ("fan to", "fan from", "growing"), -4.0),
        ),
        company=(Company(ALONG, ("acceleration", "speed"), TWIST, False, 2.0),),
        reason="the whole press moves smoothly along the line of drive, most near the motor, in "
        "proportion to speed and acceleration and without a dead zone: torque twists the shaft",
        first_check="Set register at running speed; find the unit that runs hard.",
        deciding="the same ramp with one unit's drag taken off: the twist falls with the torque",
    ),
    Entry(
        name="servo-delay",
        title="a drive that follows late",
        signs=(
            Sign(ALONG, ("speed",), ONE),
            Sign(ALONG, ("acceleration",), ONE, -0.5),
            Sign(ALONG, ("speed above",), ONE, -2.0),
        ),
        company=(Company(ALONG, ("acceleration",), ONE, True, 1.0),),
        reason="one station prints later in proportion to speed, the same way down and up and "
        "without lag: a fixed delay in time (or, with acceleration, its control loop)",
        first_check="For the drive's maintenance: following error and synchronising delay of "
        "this axis. Not an operator's job.",
        deciding="read this mark with another colour's light: a delay of the drive stays",
    ),
    Entry(
        name="gear-run-out",
        title="a gear that is not round",
        signs=(
            Sign(ALONG, ("period in metres",), ONE, 0.0, "gear"),
            Sign(ALONG, ("period in metres",), ("each",), -0.5, "gear"),
        ),
        reason="a wave of the same length in metres of web at every speed: something turns with "
        "the web, and its girth is not the repeat",
        first_check=f"{STOPPED} count the teeth and girths on the table of aliases against "
        "this wave; look at that gear's teeth and run-out.",
        deciding="frames at another pitch, or several marks round the repeat: they tell which "
        "of the aliases is real",
    ),
    Entry(
        name="plate-run-out",
        title="a plate cylinder or sleeve that is not round",
        signs=(Sign(ALONG, ("round the repeat",), ONE),),
        reason="a sine round the repeat that comes again every turn of this cylinder",
        first_check=f"{STOPPED} clean bore, journal and sleeve; dial indicator on the cylinder.",
        deciding="turn the sleeve by half a turn on its cylinder: the sine turns with what is "
        "not round",
    ),
)

WEB = (
    Entry(
        name="roller-run-out",
        title="a roller that is not round",
        signs=(
            Sign(ALONG, ("period in metres",), ONE, -0.3),
            Sign(ALONG, ("period in metres",), ("each",), -0.7),
            Sign(ACROSS, ("period in metres",), ("each", "one")),
            Sign(ACROSS, ("period in metres",), ASIDE, -1.0),
        ),
        company=(Company(WIDTH, ("period in metres",), (), False, 3.0, -1.0),),
        reason="a wave of the same length in metres of web at every speed that strains the web "
        "of one span",
        first_check=f"{STOPPED} find the roller in this span whose girth is on the table of "
        "aliases; clean it and check its run-out.",
        deciding="frames at another pitch, or several marks round the repeat: they tell which "
        "of the aliases is real",
    ),
    Entry(
        name="tension-step",
        title="a step of web tension",
        signs=(
            Sign(ALONG, ("passing strain",), PASSING, 0.0, "event"),
            Sign(ALONG, ("step",), FAN, -0.5),
            Sign(ALONG, ("blip",), ("each",), -4.0),
        ),
        reason="an early (or late) dip that passes down the press, later by a span from station "
        "to station and gone after some metres; where the infeed meters, a lasting fan",
        first_check="Tension setting and reading, dancer, brake and nip pressures at that moment.",
        deciding="the tension record of that moment; or a step of tension made on purpose",
    ),
    Entry(
        name="roll-change",
        title="another roll",
        signs=(
            Sign(ACROSS, ("passing shift",), ASIDE, 0.0, "event"),
            Sign(ALONG_OR_SKEW, ("passing strain",), PASSING, -2.5, "event"),
            Sign(ALONG, ("step",), FAN, -3.0),
            Sign(("circumferential", "lateral", "skew"), ("blip",), ("each",), -4.0),
        ),
        company=(
            Company(ACROSS, ("passing shift",), ASIDE, False, 5.0, -2.0),
            Company(ALONG, ("passing strain",), PASSING, False, 2.0),
            Company(SKEW, ("passing strain",), PASSING, False, 2.0),
        ),
        reason="at one moment the web arrives at another place across and with another strain",
        first_check="The new roll: its edges, winding and width; re-set guide and tension.",
        deciding="the change of rolls in the log of the press, or the next change",
    ),
    Entry(
        name="splice",
        title="a splice",
        signs=(
            Sign(("circumferential", "lateral", "skew"), ("blip",), ("each",)),
            Sign(ALONG, ("passing strain",), PASSING, -6.0, "event"),
        ),
        company=(Company(("circumferential", "lateral", "skew"), ("blip",), (), False, 7.0),),
        reason="every station is hit when the same piece of web comes by, unequally, and all is "
        "over within some metres",
        first_check="Mark the web as waste; do not correct register for it.",
        deciding="the frames themselves: a splice shows, and marks are missing",
    ),
    Entry(
        name="unwind-inertia",
        title="inertia of unwind or idlers",
        signs=(
            Sign(ALONG, ("passing strain",), PASSING, 0.0, "by acceleration"),
            Sign(ALONG, ("acceleration",), FAN, -0.5),
            Sign(ALONG, ("acceleration",), ("stair", "span", "drum"), -3.0),
        ),
        reason="blips at the corners of every ramp that change sign between slowing down and "
        "speeding up (or a fan while the speed changes): the roll's mass asks for tension",
        first_check="Ramp rate and the unwind's inertia compensation. "
        f"{STOPPED} bearings of the idlers.",
        deciding="a ramp at half the rate: inertia halves its effect",
    ),
    Entry(
        name="idler-drag",
        title="idlers that drag with speed",
        signs=(
            Sign(ALONG, ("speed",), FAN),
            Sign(ALONG, ("speed",), STAIR, -0.5),
            Sign(ALONG, ("passing strain",), PASSING, -2.0, "by speed"),
            Sign(ALONG, ("speed above",), (*FAN, *STAIR), -2.0),
        ),
        reason="from some span on the print moves in proportion to speed, growing along the "
        "press: the web is strained by rollers that do not turn freely",
        first_check=f"{STOPPED} turn the idlers of these spans by hand; bearings, build-up.",
        deciding="a run at two more speeds: drag is straight in speed, an air film sets in",
    ),
    Entry(
        name="air-film",
        title="air under the web",
        signs=(
            Sign(ALONG, ("speed above",), FAN),
            Sign(ALONG, ("speed above",), STAIR, -0.3),
            Sign(ACROSS, ("speed above", "speed"), SIDEWAYS, -0.5),
            Sign(ALONG, ("speed",), (*FAN, *STAIR), -3.0),
        ),
        company=(Company(ACROSS, ("speed above", "speed"), SIDEWAYS, False, 3.0),),
        reason="above some speed the print moves, and below it does not: the drums lose grip",
        first_check=f"Nip pressures and wrap. {STOPPED} clean the drums; roughness and grooves.",
        deciding="holds just below and just above the onset",
    ),
    Entry(
        name="guide-hunting",
        title="a web guide that hunts",
        signs=(
            Sign(ACROSS, ("period in seconds",), ("side", "each", "one")),
            Sign(ACROSS, ("period in metres",), ASIDE, -0.3),
        ),
        reason="a sideways swing with a period in seconds that every station sees a span later",
        first_check="Guide gain, edge sensor, and the edge of the web itself.",
        deciding="another speed: a guide keeps its seconds, a roller its metres",
    ),
    Entry(
        name="baggy-edge",
        title="an uneven roll",
        signs=(
            Sign(
                ("circumferential", "lateral", "skew"),
                ("turn of the roll",),
                ("strain", "pull", "side", "each", "one"),
            ),
        ),
        reason="a wave whose length is the girth of the supply roll and shrinks as it unwinds",
        first_check="Quality of the roll; tension and guide; turn or change the roll.",
        deciding="the next roll: the wave goes with the roll",
    ),
)

HEAT = (
    Entry(
        name="lamp-warm-up",
        title="a lamp or dryer that warms up",
        signs=(
            Sign(ALONG, ("warm-up",), STAIR, 0.0, "lamp"),
            Sign(ALONG, ("dose",), STAIR, 0.0, "warming dose"),
            Sign(ALONG, ("drift",), STAIR, -3.0, "late"),
            Sign(SKEW, ("warm-up", "dose"), STAIR, -1.0),
            Sign(WIDTH, ("warm-up", "dose"), STAIR, -2.0),
        ),
        company=(
            Company(SKEW, ("warm-up", "dose"), STAIR, True, 2.0),
            Company(WIDTH, ("warm-up", "dose"), STAIR, False, 1.0),
        ),
        reason="from one span on the print creeps late with a time constant of minutes: the web "
        "is heated there, and longer",
        first_check="Does lamp power follow the speed? Chill temperature of this span.",
        deciding="hold one speed with this lamp off, then on",
    ),
    Entry(
        name="chill-drum",
        title="drums or cylinders that change temperature",
        signs=(
            Sign(ALONG, ("warm-up",), FAN, 0.0),
            Sign(ALONG, ("drift",), FAN, -1.0),
            Sign(ALONG, ("warm-up",), STAIR, 0.0, "drum"),
            Sign(ALONG, ("drift",), STAIR, -2.0),
        ),
        company=(Company(WIDTH, ("warm-up", "drift"), (), False, 1.0),),
        reason="a slow move over tens of minutes at every speed, from one drum on or growing "
        "along the press: steel grows 11.5 ppm per degree, so a drum carries more web per turn",
        first_check="Water flow, temperature and inlet filter of the chill drums.",
        deciding="read the temperature of the drums through a run of an hour",
    ),
    Entry(
        name="film-shrink",
        title="film that shrinks under a lamp",
        signs=(
            Sign(ALONG, ("dose",), STAIR, 0.0, "plain dose"),
            Sign(ALONG, ("speed", "speed above"), STAIR, -2.0),
            Sign(WIDTH, ("dose",), (*STAIR, "one"), 0.0, "plain dose"),
            Sign(ALONG, ("dose",), (*FAN, *PASSING, "twist"), -2.0, "plain dose"),
        ),
        company=(Company(WIDTH, ("dose", "speed", "speed above"), (), False, 3.0, -1.0),),
        reason="from the station after a lamp on the print lies later the slower the web runs, "
        "and the width changes with it: the dose shrinks the film",
        first_check="Lamp dose, chill, tension; the heavy colour last.",
        deciding="the same speeds with the lamp following the speed",
    ),
    Entry(
        name="moisture",
        title="paper that dries",
        signs=(
            Sign(WIDTH, ("warm-up", "drift"), (*FAN, *STAIR, "one", "twist", "pull", "strain")),
            Sign(ALONG, ("warm-up",), (*FAN, *STAIR, "twist", *PASSING), -3.0),
            Sign(ALONG, ("drift",), (*FAN, *STAIR), -4.0),
        ),
        company=(Company(WIDTH, ("warm-up", "drift"), (), False, 7.0, -4.0, 0.65),),
        reason="the web changes width two to three times as much as length, slowly: paper gives "
        "off water",
        first_check="Dryer settings; are the reels wrapped and used to the room?",
        deciding="the same run with reels that have stood in the room for a day",
    ),
)

PLATE = (
    Entry(
        name="impression",
        title="impression set anew",
        signs=(
            Sign(ALONG, ("step",), ONE, 0.0, "small"),
            Sign(ALONG, ("step",), STAIR, -0.5, "small"),
            Sign(ALONG, ("step",), STAIR, -1.5),
        ),
        reason="a small step at one moment that stays; more pressure also smears the mark",
        first_check="Back off to kiss impression, both ends alike.",
        deciding="size and smear of the mark before and after the step",
    ),
    Entry(
        name="plate-slip",
        title="a plate or sleeve that slips",
        signs=(
            Sign(ALONG, ("step",), ONE, 0.0, "large"),
            Sign(ALONG, ("step",), ONE, -1.0),
            Sign(SKEW, ("step",), ONE, -0.5),
            Sign(ACROSS, ("step",), ONE, -0.5),
        ),
        company=(Company(SKEW, ("step",), ONE, True, 2.0),),
        reason="a jump at one moment that does not come back with speed: tape or sleeve gave way",
        first_check=f"{STOPPED} plate edge and tape; sleeve, key and air.",
        deciding="go on for some hundred metres: a plate that slipped once slips again",
    ),
    Entry(
        name="plate-creep",
        title="a plate or sleeve that creeps",
        signs=(
            Sign(ALONG, ("drift",), ONE),
            Sign(ALONG, ("warm-up",), ONE, -1.5),
            Sign(ACROSS, ("drift",), ONE, -1.5),
        ),
        reason="one way, metre by metre, and no return with speed: tape or sleeve creeps",
        first_check=f"{STOPPED} plate edge and tape; sleeve, key and air.",
        deciding="stand still for as long as the run took: heat goes on, a creep rests",
    ),
    Entry(
        name="plate-mounting",
        title="a plate mounted turned",
        signs=(Sign(ACROSS, ("round the repeat",), ONE),),
        reason="the same from the first metre and at all speeds, and the print runs sideways "
        "round the repeat: the plate is turned, which no register move cures",
        first_check="Remount the plate; only its mean can be set by register.",
        deciding="marks at more places round the repeat: a turned plate runs, a cocked "
        "cylinder does not",
    ),
    Entry(
        name="cocked-cylinder",
        title="a cylinder across the press",
        signs=(),
        reason="the two web edges differ by the same amount at all speeds, with no sideways run "
        "round the repeat: the cylinder is sheared, not the plate turned",
        first_check=f"{STOPPED} seats of the bearing blocks; skew setting.",
        deciding="marks at more places round the repeat: a turned plate runs, a cocked "
        "cylinder does not",
    ),
    Entry(
        name="moved-and-back",
        title="a setting that was changed and set back, or thrust play",
        signs=(),
        reason="a jump at one moment and the same jump back at another: something was moved, and "
        "moved back; a plate that slips does not come back",
        first_check="Compare both places with what was done on the press. "
        f"{STOPPED} thrust collar and side play.",
        deciding="the same run with nobody at the controls: what comes again is the press",
    ),
    Entry(
        name="side-lay-drift",
        title="a cylinder that wanders sideways",
        signs=(
            Sign(ACROSS, ("warm-up", "two levels", "drift", "dose"), ONE),
            Sign(ACROSS, ("step",), ONE, -2.0),
            Sign(ALONG, ("warm-up", "two levels", "drift"), ONE, -6.0),
        ),
        company=(Company(ALONG, ("warm-up", "two levels", "drift", "dose"), (), True, 3.0),),
        reason="the print moves sideways and, in a fixed ratio, along: helical gears turn the "
        "cylinder as it shifts",
        first_check=f"{STOPPED} thrust collar and side play of this cylinder.",
        deciding="ramps both ways: thrust play follows the torque, heat follows the clock",
    ),
)

SIGHT = (
    Entry(
        name="flash-timing",
        title="colours that are flashed at different times",
        signs=(
            Sign(ALONG, ("speed at the camera",), ("channel",)),
            Sign(ALONG, ("speed at the camera",), ONE, -1.0),
        ),
        reason="colours seen in one channel of the camera move with the speed at the moment of "
        "the frame, not of printing: no register error but a late light",
        first_check="Compare with the web stopped, and with black marks only.",
        deciding="a frame of the standing web: what is false is gone",
    ),
    Entry(
        name="rolling-shutter",
        title="a sensor that reads row after row",
        signs=(Sign(ALONG, ("speed at the camera",), ("place",)),),
        reason="marks move by their distance in the frame with the speed at the moment of the "
        "frame: no register error but rows read one after the other",
        first_check="Compare with the web stopped; use a global shutter or a short flash.",
        deciding="a frame of the standing web: what is false is gone",
    ),
)

CAUSES: tuple[Entry, ...] = (*DRIVE, *WEB, *HEAT, *PLATE, *SIGHT)


def entry(name: str) -> Entry:
    """The entry of that name."""
    return next(one for one in CAUSES if one.name == name)
