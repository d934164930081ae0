"""Reports: an archived run, judged and rendered. One registry holds the forms; adding one is a module and an entry."""

import json
from collections.abc import Callable

from sequencer.errors import InputError
from sequencer.judging.scores import Scores
from sequencer.reports.as_csv import render_csv
from sequencer.reports.as_json import render_json
from sequencer.reports.as_text import render_text
from sequencer.reports.assemble import OUTSIDE, exit_code, load_record, score_record
from sequencer.reports.budget_facts import REJECTED, budget_facts, point_named
from sequencer.reports.budget_text import budget_text
from sequencer.reports.summary import summary_line
from sequencer.values.record import Record

__all__ = ["FORMS", "exit_code", "load_record", "render", "render_budget", "score_record", "summary_line"]

FORMS: dict[str, Callable[[Record, Scores, Record | None], str]] = {
    "text": render_text,
    "json": render_json,
    "csv": render_csv,
}
"""How a run can be rendered, by name: from the run, its judgement, and an earlier run to compare it with or None.

What is computed for a page stands in modules of its own, as JSON values that every form may use: `line_facts`,
`scatter_facts`, `between_facts`, `change_facts`, `budget_facts`, `other_rule`, `entries`.
"""


def render(record: Record, scores: Scores, form: str, earlier: Record | None = None) -> str:
    """Render a run.

    Args:
        record: The run.
        scores: Its judgement.
        form: A key of `FORMS`.
        earlier: An earlier run that it is compared with.

    Returns:
        The text, without a last line end.

    Raises:
        InputError: There is no such form, or the form or the runs do not allow a comparison.
    """
    if form not in FORMS:
        raise InputError(f"report form {form!r}: got none of that name", hint=f"accepted: {', '.join(FORMS)}")
    return FORMS[form](record, scores, earlier)


def render_budget(record: Record, scores: Scores, named: str, form: str) -> tuple[str, int]:
    """Render the uncertainty budget of one point.

    Args:
        record: The run.
        scores: Its judgement.
        named: A unit's label and a point's number, for example `A 12`.
        form: `text` or `json`.

    Returns:
        (the text without a last line end, the exit code of that point alone).

    Raises:
        InputError: There is no such point or form.
    """
    if form not in ("text", "json"):
        raise InputError(f"a budget has no form {form!r}", hint="accepted: text, json")
    found = budget_facts(record, scores, *point_named(named))
    page = budget_text(found) if form == "text" else json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False)
    return page, OUTSIDE if found["statement"] in REJECTED else 0
