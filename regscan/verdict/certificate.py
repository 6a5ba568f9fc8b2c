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
from regscan.job.job import AXES, Job
from regscan.verdict.digest import FileDigest, combined
from regscan.verdict.finding import ORDER
from regscan.verdict.verdict import Case, Verdict

FORMAT = 1
# What fits on one page, whatever the job: reasons and letters of each, rows of the table (of
# more, the worst are shown and the rest counted), letters of a name and of a longer text.
REASONS, REASON = 4, 230
ROWS, NAME, TEXT = 24, 20, 270


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
    views = _views(certificate.verdict.cases)
    shown = sorted(views, key=lambda cases: min(map(_urgency, cases)))[:ROWS]
    about = certificate.about
    return template.render(
        c=certificate,
        job=clipped(certificate.job.name, TEXT // 3),
        press=clipped(certificate.job.press.name, TEXT // 3),
        sentence=clipped(certificate.verdict.sentence, TEXT),
        frames=clipped(about.frames, TEXT // 3, front=True),
        rows=[_row(cases) for cases in views if cases in shown],
        left_out=len(views) - len(shown),
        reasons=_reasons(certificate.verdict.cases),
        tolerance=_tolerance(certificate.job),
    )


def clipped(text: str, letters: int, *, front: bool = False) -> str:
    """A text that may be too long for the page, with "…" for what was left out at its end."""
    if len(text) <= letters:
        return text
    return f"…{text[1 - letters :]}" if front else f"{text[: letters - 1]}…"


def _tolerance(job: Job) -> str:
    """Both axes, where it came from, and the inks that have their own."""
    inks = [
        f"{ink}: ±{own.circumferential_mm:.3f} / ±{own.lateral_mm:.3f} mm"
        for ink, own in sorted(job.ink_tolerances.items())
    ]
    general = (
        f"circumferential ±{job.tolerance.circumferential_mm:.3f} mm, lateral"
        f" ±{job.tolerance.lateral_mm:.3f} mm; origin: {job.tolerance.source or 'not stated'}"
    )
    return clipped("; ".join([general, *inks]), TEXT)


def _views(cases: Sequence[Case]) -> list[list[Case]]:
    """Both axes of each colour as one camera and web edge saw it."""
    views: dict[tuple[int, str, str, str], list[Case]] = {}
    for case in cases:
        views.setdefault((case.station, case.ink, case.camera, case.edge), []).append(case)
    return list(views.values())


def _reasons(cases: Sequence[Case]) -> list[str]:
    """Why what is not in register is not, worst first, as many as the page has room for."""
    bad = sorted((c for c in cases if c.answer != "in register"), key=_urgency)
    lines = [
        clipped(f"Station {c.station} {c.ink}, {c.axis}: {c.why}.", REASON) for c in bad[:REASONS]
    ]
    return lines + ([f"And {len(bad) - REASONS} more, in run.json."] if len(bad) > REASONS else [])


def _urgency(case: Case) -> tuple[int, float]:
    used = abs(case.offset_mm) / case.tolerance_mm if case.offset_mm is not None else 9e9
    return ORDER.index(case.answer), -used


def _row(cases: Sequence[Case]) -> dict[str, Any]:
    first = cases[0]
    by_axis = {case.axis: _cells(case) for case in cases}
    return {
        "station": str(first.station),
        "ink": clipped(first.ink, NAME),
        "view": clipped(view_name(first.camera, first.edge), NAME, front=True),
        "axes": [by_axis.get(axis, ("", "", "")) for axis in AXES],
        "limit": " / ".join(dict.fromkeys(f"{case.tolerance_mm:.3f}" for case in cases)),
        "frames": " / ".join(dict.fromkeys(str(case.frames) for case in cases)),
        "answer": min(cases, key=_urgency).answer,
    }


def _cells(case: Case) -> tuple[str, str, str]:
    """(offset in words, doubt, probability) of one axis, without its unit."""
    if case.offset_mm is None:
        return "not known", "", ""
    words = lies(case.axis, case.offset_mm).replace(" mm", "").replace("toward the ", "")
    doubt = "" if case.sd_mm is None else f"±{case.sd_mm:.4f}"
    return words, doubt, "" if case.probability is None else f"{case.probability:.4f}"


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
