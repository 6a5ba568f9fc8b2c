"""The register result as CIP4 XJDF: QualityControlResult with RegistrationQuality.

Elements, their order, attributes and types follow the published schema of XJDF 2.1:
`QualityControlResult` with `Measurements`, `Passed` and `Failed`, `RegistrationQuality` with
the required `Offset` (an XYPair, in points) and `Reference`. Names are NMTOKENs there, so what
such a name cannot carry becomes "_", and the full name stands beside it. The schema says
nothing of the sign of `Offset`, so ours is stated in a Comment. See docs/how/gate.md.
"""

import re
from pathlib import Path
from xml.etree import ElementTree

from regscan.drift.cameras import view_name
from regscan.job.job import Job
from regscan.verdict.verdict import Case, Verdict
from regscan.wholefile import write_whole

NAMESPACE = "http://www.CIP4.org/JDFSchema_2_0"
VERSION = "2.1"
POINTS_PER_MM = 72.0 / 25.4
SIGNS = (
    "Offset is lateral, then circumferential, in points (1 pt = 25.4/72 mm): the settled place"
    " of this separation less that of Reference. First number + : toward the drive side."
    " Second number + : late, toward the unwind. A correction is minus the offset."
)


def write_xjdf(path: Path, verdict: Verdict, job: Job) -> None:
    """Write the result, whole or not at all. Raises BadOutput."""
    ElementTree.register_namespace("", NAMESPACE)
    named = {"JobID": token(job.name), "DescriptiveName": job.name}
    root = _element("XJDF", **named, Types="QualityControl", Version=VERSION)
    ElementTree.SubElement(root, _name("Comment")).text = _plain(
        f"{SIGNS} Offsets count from {job.zero_words}."
    )
    results = _sub(root, "ResourceSet", Name="QualityControlResult", Usage="Output")
    views = dict.fromkeys((c.station, c.ink, c.camera, c.edge) for c in verdict.cases)
    for number, view in enumerate(views, 1):
        cases = [c for c in verdict.cases if (c.station, c.ink, c.camera, c.edge) == view]
        _resource(results, number, cases, job)
    ElementTree.indent(root)
    data = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    write_whole(path, data + b"\n")


def _resource(results: ElementTree.Element, number: int, cases: list[Case], job: Job) -> None:
    """One colour as one camera and web edge saw it, both axes."""
    first = cases[0]
    said = "; ".join(f"{case.axis}: {case.answer}: {case.why}" for case in cases)
    seen_by = view_name(first.camera, first.edge)
    where = f"Station {first.station} {first.ink}" + (f", {seen_by}" if seen_by else "")
    resource = _sub(results, "Resource", ID=f"R{number}", DescriptiveName=where)
    ElementTree.SubElement(resource, _name("Comment")).text = _plain(f"{where}: {said}")
    _sub(resource, "Part", Separation=token(first.ink))
    answers = [case.answer for case in cases]
    # Frames each axis was judged by; what cannot be decided neither passed nor failed.
    frames = max(case.frames for case in cases)
    failed = "out of tolerance" in answers
    passed = all(answer == "in register" for answer in answers)
    result = _sub(
        resource,
        "QualityControlResult",
        Measurements=str(frames),
        Passed=str(frames if passed else 0),
        Failed=str(frames if failed else 0),
    )
    offsets = {case.axis: case.offset_mm for case in cases}
    lateral, circumferential = offsets.get("lateral"), offsets.get("circumferential")
    if lateral is not None and circumferential is not None:
        offset = f"{lateral * POINTS_PER_MM:.6f} {circumferential * POINTS_PER_MM:.6f}"
        _sub(result, "RegistrationQuality", Offset=offset, Reference=token(job.reference))


def token(name: str) -> str:
    """A name as an NMTOKEN: what such a token cannot carry (blanks, commas) becomes "_".

    Of the letters that XML allows, those that Python calls letters, digits or combining marks.
    """
    return re.sub(r"[^\w.:·-]", "_", name) or "_"


def _name(tag: str) -> str:
    return f"{{{NAMESPACE}}}{tag}"


def _element(tag: str, **attributes: str) -> ElementTree.Element:
    return ElementTree.Element(_name(tag), {k: _plain(v) for k, v in attributes.items()})


def _sub(parent: ElementTree.Element, tag: str, **attributes: str) -> ElementTree.Element:
    values = {k: _plain(v) for k, v in attributes.items()}
    return ElementTree.SubElement(parent, _name(tag), values)


def _plain(text: str) -> str:
    """Text without the control characters XML 1.0 cannot carry."""
    return "".join(c for c in text if c in "\t\n" or (c.isprintable() and c not in "\ufffe\uffff"))
