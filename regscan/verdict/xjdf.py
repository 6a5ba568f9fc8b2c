"""The register result as CIP4 XJDF: QualityControlResult with RegistrationQuality.

The element and attribute names are those of the open standard as far as it could be read:
`QualityControlResult` with `Passed` and `Failed`, `RegistrationQuality` with `Offset` (an
XYPair in points) and `Reference`. The standard's sign of `Offset` could not be read, so ours
is stated in a Comment. See docs/how/gate.md.
"""

from pathlib import Path
from xml.etree import ElementTree

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
    root = _element("XJDF", JobID=job.name, Types="QualityControl", Version=VERSION)
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
    resource = _sub(results, "Resource", ID=f"R{number}")
    _sub(resource, "Part", Separation=first.ink)
    said = "; ".join(f"{case.axis}: {case.answer}: {case.why}" for case in cases)
    where = "".join(f" {word}" for word in (first.camera, first.edge) if word)
    ElementTree.SubElement(resource, _name("Comment")).text = _plain(
        f"Station {first.station}{where}: {said}"
    )
    answers = [case.answer for case in cases]
    # Frames each axis was judged by; what cannot be decided neither passed nor failed.
    frames = max(case.frames for case in cases)
    failed = "out of tolerance" in answers
    passed = all(answer == "in register" for answer in answers)
    result = _sub(
        resource,
        "QualityControlResult",
        Passed=str(frames if passed else 0),
        Failed=str(frames if failed else 0),
    )
    offsets = {case.axis: case.offset_mm for case in cases}
    lateral, circumferential = offsets.get("lateral"), offsets.get("circumferential")
    if lateral is not None and circumferential is not None:
        offset = f"{lateral * POINTS_PER_MM:.6f} {circumferential * POINTS_PER_MM:.6f}"
        _sub(result, "RegistrationQuality", Offset=offset, Reference=job.reference)


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
