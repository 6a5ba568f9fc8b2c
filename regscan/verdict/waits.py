"""How much web must pass after a move before a frame shows nothing but the new setting."""

from regscan.job.job import Job, Station

SPANS = 3.0  # web lengths of one span in which a strain settles to 95 % (e^-3)


def wait_m(station: Station, job: Job) -> float:
    """Metres from a station's move until every camera shows it alone.

    The web path from the station to the furthest camera that sees it; where its plate
    grips the web, three lengths of the longest span from it on, in which the strain
    it made settles.
    """
    posts = job.press.cameras
    names = [post.name for post in posts if post.after_station >= station.number] or [""]
    paths = [job.press.path_to_camera_m(station.number, name) for name in names]
    return max(paths, default=0.0) + settling_m(station, job)


def settling_m(station: Station, job: Job) -> float:
    """Metres in which the disturbance of a gripping plate dies away; 0 where none grips."""
    if not station.grips:
        return 0.0
    spans = [s.path_m for s in job.press.stations if s.number >= station.number]
    return SPANS * max(spans)


def wait_s(metres: float, speed_m_min: float | None) -> float | None:
    """The same in seconds at a speed; None where the speed is not known or the web stands."""
    return None if not speed_m_min else metres / speed_m_min * 60.0
