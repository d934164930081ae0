"""How a run came out, in one line: for a log file, and for whoever comes back to a bench that was left alone."""

from sequencer.judging.scores import Scores, counts
from sequencer.reports.header import header
from sequencer.values.event import Mishap
from sequencer.values.record import Record


def summary_line(record: Record, scores: Scores) -> str:
    """Outcome, statements, mishaps and how the outputs were left."""
    said = ", ".join(f"{number} {statement}" for statement, number in counts(scores).items() if number)
    mishaps = sum(isinstance(event, Mishap) for event in record.events)
    met = f"{mishaps} mishap{'s' * (mishaps != 1)}" if mishaps else "no mishaps"
    outputs = "OUTPUT MAY BE ON" if header(record).left_on else "outputs off"
    return f"run {record.run} {record.outcome}: {said or 'no point was read'}; {met}; {outputs}"
