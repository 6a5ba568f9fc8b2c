"""The one table of causes: what each looks like, why, what to check first, what would decide.

A sign is a way in which the cause shows; its weight is the logarithm of how usual that is, with
0 for the plainest. Signatures, reasons and checks are common practice of the trade or follow
from the mass balance of the web (docs/how/causes.md says which); no standard gives them.
"""

from regscan.drift.causes.known.drives import DRIVE
from regscan.drift.causes.known.heat import HEAT
from regscan.drift.causes.known.plates import PLATE
from regscan.drift.causes.known.sight import SIGHT
from regscan.drift.causes.known.web import WEB
from regscan.drift.causes.sign import Entry

CAUSES: tuple[Entry, ...] = (*DRIVE, *WEB, *HEAT, *PLATE, *SIGHT)


def entry(name: str) -> Entry:
    """The entry of that name."""
    return next(one for one in CAUSES if one.name == name)
