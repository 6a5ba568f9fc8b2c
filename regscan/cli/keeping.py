"""The journal of a command's run: begun, gone on with, kept when the run is interrupted."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from regscan.cli.screen import say
from regscan.errors import BadFrames
from regscan.journal.journal import NAME, Journal, check_unchanged, count_frames
from regscan.journal.origin import Given, origin_of
from regscan.report.words import count


@contextmanager
def keeping(folder: Path, given: Given, resume: bool) -> Iterator[Journal]:
    """A journal in that folder, gone on with where one lies there and that is wanted.

    When the block fails, the journal stays and the error's note says how to go on, unless
    there is nothing in it that a second attempt could use. Raises BadJournal, before any
    work, when what was measured does not belong to this job, these cameras and frames.
    """
    path, origin = folder / NAME, origin_of(given)
    frames = given.recording.sources
    _take_up(path, resume)
    if path.exists():
        check_unchanged(path, origin, frames)
        say(f"Going on after frame {count_frames(path)} of {len(frames)}.")
    journal = Journal(path, origin)
    try:
        yield journal
    except BaseException as stop:
        journal.close()
        if journal.finished and not isinstance(stop, BadFrames):
            kept = f"{journal.finished} of {count(len(frames), 'frame')}"
            stop.add_note(f"{kept} kept; the same command with --resume goes on from there")
        else:
            path.unlink(missing_ok=True)
        raise
    journal.close()


def _take_up(path: Path, resume: bool) -> None:
    """Leave a journal there that is to be gone on with, and no other."""
    finished = count_frames(path)
    if resume and not finished:
        say("Nothing to go on with here; measuring from the first frame.")
    elif finished and not resume:
        say(f"Measuring anew; {count(finished, 'frame')} of an interrupted run were here.")
    if not (resume and finished):
        path.unlink(missing_ok=True)
