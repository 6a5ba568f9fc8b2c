"""Files that appear whole or not at all: written beside their place, then renamed into it."""

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from regscan.errors import BadOutput, Problem

UNFINISHED = ".regscan-unfinished"
"""Hidden folder in the results folder of a run that goes on or was interrupted."""


def write_whole(path: Path, content: str | bytes | Iterable[str]) -> None:
    """Write a file in one go; folders above it are made when they are not there.

    content   bytes as they are, or text, which is written as UTF-8 with its line ends kept;
              long text may come in parts, so that it never lies in memory as a whole.

    Whoever looks at `path` sees the old file or the new one, never a part. Raises
    BadOutput, leaving nothing behind, when it cannot be written.
    """
    # In the same folder, since a rename is whole only within one file system.
    part = path.parent / f".{path.name[:40]}.{os.getpid()}.part"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.writelines(_parts(content))
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except (OSError, ValueError) as fault:  # ValueError: a name with a null character
        _forget(part)
        reason = getattr(fault, "strerror", None) or str(fault)
        cure = "choose a folder you may write to with --out, with room on its disk"
        raise BadOutput(path, Problem("", f"cannot be written ({reason})", cure)) from fault
    except BaseException:
        _forget(part)
        raise


def _parts(content: str | bytes | Iterable[str]) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
    else:
        for text in [content] if isinstance(content, str) else content:
            # A file name need not be text; in JSON what stands for it is read back as it was.
            yield text.encode("utf-8", "backslashreplace")


def _forget(part: Path) -> None:
    try:
        part.unlink(missing_ok=True)
    except (OSError, ValueError):
        return
