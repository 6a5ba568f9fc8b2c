"""Causes of warmth, dose and moisture."""

from regscan.drift.causes.sign import (
    ALONG,
    FAN,
    PASSING,
    SKEW,
    STAIR,
    WIDTH,
    Company,
    Entry,
    Sign,
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
