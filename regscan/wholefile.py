"""Files that appear whole or not at all: written beside their place, then renamed into it."""

import os
from pathlib import Path

from regscan.errors import BadOutput, Problem


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file in one go; folders above it are made when they are not there.

    content   bytes as they are, or text, which is written as UTF-8 with its line ends kept.

    Whoever looks at `path` sees the old file or the new one, never a part. Raises
    BadOutput, leaving nothing behind, when it cannot be written.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    # In the same folder, since a rename is whole only within one file system.
    part = path.parent / f".{path.name[:40]}.{os.getpid()}.part"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(data)
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


def _forget(part: Path) -> None:
    try:
        part.unlink(missing_ok=True)
    except (OSError, ValueError):
        return
