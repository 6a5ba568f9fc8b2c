"""Threads of the linear algebra: none besides the one that asks.

Marks are many small problems, and frames are shared out over processes. Threads of the library
below numpy then only wait for each other: they doubled the time of a frame on two processors.
"""

import os

_NAMES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def one_each() -> None:
    """One thread in each process from here on, unless the user's environment says otherwise.
    Heeded by libraries that are not loaded yet, in this process and in those it starts."""
    for name in _NAMES:
        os.environ.setdefault(name, "1")
