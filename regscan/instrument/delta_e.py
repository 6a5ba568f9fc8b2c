"""How far two colours lie apart for an eye: CIEDE2000 of what a camera saw.

A camera's red, green and blue are read as linear sRGB. That is no colour meter: the
numbers compare colours seen by one camera, and tell a wrong ink from a right one.
"""

import numpy as np

# Linear sRGB to CIE XYZ under D50 (Bradford adaptation in it): the widely printed table,
# from memory; tests/instrument/test_delta_e.py holds it against colours with known Lab.
_RGB_TO_XYZ_D50 = np.array(
    [
        [0.4360747, 0.3850649, 0.1430804],
        [0.2225045, 0.7168786, 0.0606169],
        [0.0139322, 0.0971045, 0.7141733],
    ]
)


def lab_of(light: np.ndarray) -> np.ndarray:
    """CIE Lab (D50) of linear light, ... x 3 or ... x 1 (mono: grey)."""
    from skimage.color import xyz2lab

    three = np.broadcast_to(light, (*light.shape[:-1], 3))
    return np.asarray(xyz2lab(np.clip(three, 0.0, None) @ _RGB_TO_XYZ_D50.T, "D50"))


def difference(one: np.ndarray, other: np.ndarray) -> float:
    """CIEDE2000 of two colours given as linear light (3 or 1 numbers)."""
    from skimage.color import deltaE_ciede2000

    gap: float = deltaE_ciede2000(lab_of(one), lab_of(other))  # type: ignore[no-untyped-call]
    return float(gap)
