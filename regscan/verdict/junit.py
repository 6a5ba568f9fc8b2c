"""gate.xml: the verdict as JUnit XML, one test case per station and axis.

A case out of tolerance is a <failure>. A case that cannot be decided is an
<error>, not a <skipped>: build servers let skipped cases through, and what was
not proven must not pass.
"""

from pathlib import Path
from xml.etree import ElementTree

from regscan.drift.cameras import view_name
from regscan.verdict.verdict import Answer, Case, Verdict
from regscan.wholefile import write_whole

SUITE = "register"


def write_junit(path: Path, verdict: Verdict) -> None:
    """Write gate.xml, whole or not at all. Raises BadOutput."""
    root = ElementTree.Element("testsuites", _counts(verdict))
    suite = ElementTree.SubElement(root, "testsuite", {"name": SUITE, **_counts(verdict)})
    for case in verdict.cases:
        suite.append(_test_case(case))
    said = ElementTree.SubElement(suite, "system-out")
    said.text = _plain(f"{verdict.sentence}\nRule: {verdict.rule}")
    ElementTree.indent(root)
    write_whole(path, ElementTree.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n")


def _counts(verdict: Verdict) -> dict[str, str]:
    def of(answer: Answer) -> str:
        return str(sum(case.answer == answer for case in verdict.cases))

    return {
        "tests": str(len(verdict.cases)),
        "failures": of("out of tolerance"),
        "errors": of("cannot be decided"),
    }


def _test_case(case: Case) -> ElementTree.Element:
    view = view_name(case.camera, case.edge)
    name = f"station {case.station} {case.ink}, {case.axis}" + (f", {view}" if view else "")
    element = ElementTree.Element("testcase", {"classname": SUITE, "name": _plain(name)})
    kinds = {"out of tolerance": "failure", "cannot be decided": "error"}
    if kind := kinds.get(case.answer):
        about = {"message": _plain(case.why), "type": case.answer}
        ElementTree.SubElement(element, kind, about).text = _plain(_numbers(case))
    else:
        ElementTree.SubElement(element, "system-out").text = _plain(_numbers(case))
    return element


def _numbers(case: Case) -> str:
    values = {
        "offset_mm": case.offset_mm,
        "sd_mm": case.sd_mm,
        "tolerance_mm": case.tolerance_mm,
        "conformance_probability": case.probability,
    }
    known = [f"{name} {value:.6f}" for name, value in values.items() if value is not None]
    return "\n".join([case.why, *known, f"frames {case.frames}"])


def _plain(text: str) -> str:
    """Text without the control characters XML 1.0 cannot carry."""
    return "".join(c for c in text if c in "\t\n" or (c.isprintable() and c not in "\ufffe\uffff"))
