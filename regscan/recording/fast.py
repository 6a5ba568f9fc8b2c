"""Whether the decoders of the extra `fast` are installed."""

import importlib.util
from functools import cache


@cache
def fast_decoders() -> bool:
    """Whether imagecodecs is there; looked for once."""
    return importlib.util.find_spec("imagecodecs") is not None
