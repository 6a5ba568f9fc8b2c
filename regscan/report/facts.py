"""Everything the report shows, as one plain dict: to be tested without a browser.

Lengths are mm, places along the web m, speeds m/min, as in the run; inch and
ft/min are made on the page, for display only. What is not known is None.
"""

from typing import Any

import numpy as np

from regscan.report.across import across_facts
from regscan.report.along import along_the_run
from regscan.report.causes import cause_facts
from regscan.report.costs import acceptance_facts, alert_facts, cost_facts
from regscan.report.curves import chart_facts
from regscan.report.line import line_facts
from regscan.report.moved import moved_facts
from regscan.report.origins import caution_facts, origin_facts
from regscan.report.picture import pictures
from regscan.report.quality import quality_facts
from regscan.report.sentences import sentences
from regscan.report.speeds import speed_facts
from regscan.report.tables import case_facts, level_facts, move_facts, stretch_facts
from regscan.report.views import views_of
from regscan.run import Run

_SIGNS = {"in register": "in", "out of tolerance": "out", "cannot be decided": "unknown"}


def report_facts(run: Run, offsets: np.ndarray, marks: np.ndarray | None) -> dict[str, Any]:
    """The facts of one run, ready for `page`; JSON can hold them.

    offsets   the run's table with OFFSET_COLUMNS.
    marks     its table with MARK_COLUMNS; None for a table measured elsewhere.
    """
    views = views_of(run, offsets)
    along = along_the_run(offsets)
    return {
        "kind": run.kind,
        "job": {
            "name": run.job.name,
            "press": run.job.press.name,
            "reference": run.job.reference,
            "zero": run.job.zero_words,
        },
        "made_at": run.inputs.made_at,
        "metres_total": run.drift.metres_total,
        "metres_outside": run.drift.metres_outside,
        "verdict": {
            "answer": run.verdict.answer,
            "sign": _SIGNS[run.verdict.answer],
            "sentence": _without_answer(run.verdict.sentence, run.verdict.answer),
        },
        "sentences": sentences(run),
        "moves": move_facts(run),
        "moved": moved_facts(run),
        "causes": cause_facts(run),
        "pictures": pictures(run, views),
        "frames": [],  # write_report adds those that were drawn
        "line": line_facts(run, views),
        "charts": chart_facts(run, offsets, along),
        "speeds": speed_facts(run, offsets, along.frames),
        "stretches": stretch_facts(run),
        "cost": cost_facts(run),
        "alerts": alert_facts(run),
        "acceptance": acceptance_facts(run),
        "levels": level_facts(run),
        "across": across_facts(run),
        "cases": case_facts(run),
        "quality": quality_facts(run, offsets, marks, views),
        "cautions": caution_facts(run),
        "origins": origin_facts(run),
    }


def _without_answer(sentence: str, answer: str) -> str:
    """The sentence of the verdict without the answer it may begin with: the heading has it."""
    head = f"{answer}:"
    rest = sentence[len(head) :].strip() if sentence.lower().startswith(head) else sentence
    return rest[:1].upper() + rest[1:]
