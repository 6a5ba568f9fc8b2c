"""A folder that appears when everything is in it, or not at all."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from regscan.errors import BadOutput, Problem


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A hidden folder beside the place to fill; it takes the place at the end of the block.

    Raises BadOutput for a folder in use or one that cannot be written.
    """
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            cure = "name a new folder with --out"
            raise BadOutput(folder, Problem("", "is already there and not an empty folder", cure))
        folder.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=".regscan-", dir=folder.parent))
    except OSError as fault:
        raise _not_written(folder, fault) from fault
    try:
        part.chmod(0o755)
        yield part
        if folder.exists():
            folder.rmdir()
        part.replace(folder)
    except OSError as fault:
        raise _not_written(folder, fault) from fault
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _not_written(folder: Path, fault: OSError) -> BadOutput:
    cure = "choose a folder you may write to with --out, with room on its disk"
    return BadOutput(folder, Problem("", f"cannot be written ({fault.strerror})", cure))
