"""The certificate: one page that says what was judged, how, and from which files."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from regscan.drift.cameras import view_name
from regscan.drift.words import lies
from regscan.errors import BadTable, Problem
from regscan.job.job import Job
from regscan.verdict.digest import FileDigest, combined
from regscan.verdict.verdict import Case, Verdict

FORMAT = 1
REASONS, REASON = 6, 300  # reasons given, and letters of each, for what is not in register
ROWS = 30  # cases that fit on the page; of more, the worst are shown and the rest counted


@dataclass(frozen=True, slots=True)
class About:
    """Where the judged run came from."""

    frames: str
    frames_found: int
    frames_used: int
    measured_at: str
    written_at: str
    version: str


@dataclass(frozen=True)
class Certificate:
    """Everything on the page."""

    job: Job
    verdict: Verdict
    about: About
    files: tuple[FileDigest, ...]

    @property
    def digest(self) -> str:
        """The digest of all files, as printed."""
        return combined(self.files)


def certificate_page(certificate: Certificate) -> str:
    """The page as HTML that prints to one sheet; every name in it is escaped."""
    from jinja2 import Environment

    source = files("regscan.verdict").joinpath("certificate.html").read_text(encoding="utf-8")
    template = Environment(autoescape=True).from_string(source)
    cases = certificate.verdict.cases
    shown = sorted(cases, key=_urgency)[:ROWS]
    return template.render(
        c=certificate,
        rows=[_row(case) for case in cases if case in shown],
        left_out=len(cases) - len(shown),
        reasons=_reasons(cases),
        tolerance=certificate.job.tolerance,
        special=sorted(certificate.job.ink_tolerances.items()),
    )


def _reasons(cases: Sequence[Case]) -> list[str]:
    """Why what is not in register is not, worst first, as many as the page has room for."""
    bad = sorted((c for c in cases if c.answer != "in register"), key=_urgency)
    lines = [f"Station {c.station} {c.ink}, {c.axis}: {c.why}."[:REASON] for c in bad[:REASONS]]
    return lines + ([f"And {len(bad) - REASONS} more, in run.json."] if len(bad) > REASONS else [])


def _urgency(case: Case) -> tuple[int, float]:
    order = ("out of tolerance", "cannot be decided", "in register")
    used = abs(case.offset_mm) / case.tolerance_mm if case.offset_mm is not None else 9e9
    return order.index(case.answer), -used


def _row(case: Case) -> dict[str, str]:
    known = case.offset_mm is not None
    return {
        "station": str(case.station),
        "ink": case.ink,
        "axis": case.axis,
        "view": view_name(case.camera, case.edge),
        "offset": lies(case.axis, case.offset_mm or 0.0) if known else "not known",
        "doubt": "" if case.sd_mm is None else f"±{case.sd_mm:.4f}",
        "limit": f"{case.tolerance_mm:.3f}",
        "probability": "" if case.probability is None else f"{case.probability:.4f}",
        "frames": str(case.frames),
        "answer": case.answer,
    }


def certificate_document(certificate: Certificate) -> dict[str, Any]:
    """What certificate.json holds: the answer and the digest of every file."""
    return {
        "format": FORMAT,
        "job": certificate.job.name,
        "press": certificate.job.press.name,
        "answer": certificate.verdict.answer,
        "sentence": certificate.verdict.sentence,
        "about": asdict(certificate.about),
        "digest": certificate.digest,
        "files": [asdict(one) for one in certificate.files],
    }


def read_certificate(path: Path) -> tuple[str, Sequence[FileDigest], str]:
    """(answer, files, folder of frames) of a certificate.json.

    Raises BadTable where it cannot be read, or was changed itself.
    """
    cure = "write it again with regscan gate DIR --certificate"
    try:
        document = json.loads(path.read_bytes())
        if document["format"] != FORMAT:
            raise BadTable(path, Problem("format", f"{document['format']!r} is not known", cure))
        listed = [FileDigest(**one) for one in document["files"]]
        answer, digest = str(document["answer"]), str(document["digest"])
        frames = str(document["about"]["frames"])
        same = combined(listed) == digest
    except OSError as fault:
        what = f"cannot be read ({fault.strerror})"
        raise BadTable(path, Problem("", what, cure)) from None
    except (ValueError, KeyError, TypeError):
        raise BadTable(path, Problem("", "is no certificate of regscan", cure)) from None
    if not same:
        raise BadTable(path, Problem("digest", "does not belong to the files listed", cure))
    return answer, listed, frames


def check_page(path: Path, answer: str, files: Sequence[FileDigest]) -> None:
    """Raises BadTable where the page does not carry the digest and the answer of its list."""
    cure = "write it again with regscan gate DIR --certificate"
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        raise BadTable(path, Problem("", "cannot be read", cure)) from None
    if combined(files) not in text:
        raise BadTable(path, Problem("digest", "is not that of certificate.json", cure))
    if f'<h2 id="answer">{answer.capitalize()}</h2>' not in text:
        raise BadTable(path, Problem("answer", "is not that of certificate.json", cure))
