"""Causes that the web carries: rollers, tension, splices, rolls, guide."""

from regscan.drift.causes.sign import (
    ACROSS,
    ALONG,
    ALONG_OR_SKEW,
    ASIDE,
    FAN,
    ONE,
    PASSING,
    SIDEWAYS,
    SKEW,
    STAIR,
    STOPPED,
    WIDTH,
    Company,
    Entry,
    Sign,
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
            Company(ALONG, ("passing strain", "step"), (*PASSING, *FAN), False, 2.0),
            Company(SKEW, ("passing strain", "step"), (*PASSING, *FAN), False, 2.0),
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
