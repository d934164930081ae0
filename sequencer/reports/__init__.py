"""Reports: an archived run, judged and rendered. One registry holds the forms; adding one is a module and an entry."""

from collections.abc import Callable

from sequencer.errors import InputError
from sequencer.judging.scores import Scores
from sequencer.reports.as_csv import render_csv
from sequencer.reports.as_json import render_json
from sequencer.reports.as_text import render_text
from sequencer.reports.assemble import exit_code, load_record, score_record
from sequencer.values.record import Record

__all__ = ["FORMS", "exit_code", "load_record", "render", "score_record"]

FORMS: dict[str, Callable[[Record, Scores], str]] = {
    "text": render_text,
    "json": render_json,
    "csv": render_csv,
}
"""How a run can be rendered, by name."""


def render(record: Record, scores: Scores, form: str) -> str:
    """Render a run.

    Args:
        record: The run.
        scores: Its judgement.
        form: A key of `FORMS`.

    Returns:
        The text, without a last line end.

    Raises:
        InputError: There is no such form.
    """
    if form not in FORMS:
        raise InputError(f"report form {form!r}: got none of that name", hint=f"accepted: {', '.join(FORMS)}")
    return FORMS[form](record, scores)
