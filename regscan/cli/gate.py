"""regscan gate: pass, fail or undecided, as words, gate.xml and an exit code."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from regscan.cli.options import AsJson, JobFile

if TYPE_CHECKING:
    from regscan.run import Run

Folder = Annotated[
    Path | None, typer.Argument(metavar="[DIR]", help="Folder that measure or ramp wrote.")
]
Certificate = Annotated[
    bool,
    typer.Option(
        "--certificate", help="Write a one-page certificate: HTML, and PDF where that can be."
    ),
]
Xjdf = Annotated[bool, typer.Option("--xjdf", help="Write the result as CIP4 XJDF, register.xjdf.")]
Verify = Annotated[
    bool,
    typer.Option("--verify", help="Check that the certificate in DIR belongs to these files."),
]
Frames = Annotated[
    Path | None,
    typer.Option("--frames", help="With --verify: where the frames lie now.", metavar="FOLDER"),
]
Noise = Annotated[
    float | None,
    typer.Option(
        "--noise-mm",
        min=1e-6,
        help="With --job, before a run: how many frames are enough at this noise.",
        metavar="MM",
    ),
]


def gate(
    folder: Folder = None,
    certificate: Certificate = False,
    xjdf: Xjdf = False,
    verify: Verify = False,
    frames: Frames = None,
    job: JobFile = None,
    noise_mm: Noise = None,
    json: AsJson = False,
) -> None:
    """Pass or fail a run, also by its exit code.

    0 in register, 1 out of tolerance, 4 cannot be decided. With --verify: 0 when the
    certificate belongs to the files, 3 when not."""
    if noise_mm is not None:
        _say(_enough(job, noise_mm), json)
        return
    if folder is None:
        raise typer.BadParameter("is needed", param_hint="DIR")
    if verify:
        _say(_verify(folder, frames), json)
        return
    run = _judged(folder)
    if xjdf:
        from regscan.verdict.xjdf import write_xjdf

        write_xjdf(folder / "register.xjdf", run.verdict, run.job)
    if certificate:
        _certify(folder, run)
    _show(folder, run, json)
    raise typer.Exit(run.verdict.exit_code)


def _judged(folder: Path) -> "Run":
    from regscan.cli.results import writing_to
    from regscan.run import load_run
    from regscan.verdict.junit import write_junit

    run = load_run(folder / "run.json")
    with writing_to(folder / "gate.xml"):
        write_junit(folder / "gate.xml", run.verdict)
    return run


def _show(folder: Path, run: "Run", as_json: bool) -> None:
    from regscan.cli.screen import print_json, show_verdict

    if as_json:
        print_json(folder, run, ("verdict",))
    else:
        show_verdict(run)


def _say(document: dict[str, Any], as_json: bool) -> None:
    """A document's sentences, or all of it as JSON."""
    import json

    if as_json:
        typer.echo(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        typer.echo("\n".join(document["sentences"]))


def _enough(job: Path | None, noise_mm: float) -> dict[str, Any]:
    """How many frames decide, told before a run."""
    from regscan.job.read import read_job
    from regscan.verdict.enough import SHARES, enough_words, frames_enough

    if job is None:
        raise typer.BadParameter("is needed with --noise-mm", param_hint="--job")
    read = read_job(job)
    limits = dict.fromkeys(
        limit
        for tolerance in (read.tolerance, *read.ink_tolerances.values())
        for limit in (tolerance.circumferential_mm, tolerance.lateral_mm)
    )
    said = [enough_words(limit, noise_mm, read.gate) for limit in limits]
    table = [
        {
            "tolerance_mm": limit,
            "offset_mm": share * limit,
            "frames": frames_enough(share * limit, noise_mm, limit, read.gate),
        }
        for limit in limits
        for share in SHARES
    ]
    sentences = [f"Good frames that decide, {one}." for one in said]
    return {"noise_mm": noise_mm, "enough": table, "sentences": sentences}


def _certify(folder: Path, run: "Run") -> None:
    """Write certificate.html, certificate.json and, where it can be, certificate.pdf."""
    import json
    from datetime import datetime

    import regscan
    from regscan.cli.pdf import print_pdf
    from regscan.cli.screen import say
    from regscan.offsets.table import read_offsets
    from regscan.verdict.certificate import (
        About,
        Certificate,
        certificate_document,
        certificate_page,
    )
    from regscan.verdict.digest import digests
    from regscan.wholefile import write_whole

    inputs = run.inputs
    names = read_offsets(folder / "offsets.csv")["frame"].tolist()
    found = digests(folder, Path(inputs.frames_folder), names, Path(run.job.path))
    now = datetime.now().astimezone().isoformat(timespec="seconds")
    about = About(
        inputs.frames_folder,
        inputs.frames_found,
        inputs.frames_used,
        inputs.made_at,
        now,
        regscan.__version__,
    )
    made = Certificate(run.job, run.verdict, about, tuple(found))
    page, pdf = folder / "certificate.html", folder / "certificate.pdf"
    write_whole(page, certificate_page(made))
    text = json.dumps(certificate_document(made), indent=1, ensure_ascii=False)
    write_whole(folder / "certificate.json", text + "\n")
    pdf.unlink(missing_ok=True)
    why_not = print_pdf(page, pdf)
    say(f"Certificate: {page}" + (f" (no PDF: {why_not})" if why_not else f", {pdf}"))
    if not any(one.where == "frames" for one in found):
        say("The frames themselves were not found, so the digest covers the table alone.")


def _verify(folder: Path, frames: Path | None) -> dict[str, Any]:
    from regscan.verdict.certificate import check_page, read_certificate
    from regscan.verdict.digest import check

    path = folder / "certificate.json"
    answer, listed, place = read_certificate(path)
    check_page(folder / "certificate.html", answer, listed)
    check(path, listed, folder, frames or Path(place))
    said = f"The certificate ({answer}) belongs to these {len(listed)} files."
    return {"belongs": True, "answer": answer, "files": len(listed), "sentences": [said]}
