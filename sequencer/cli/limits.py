"""`meterjury limits`: what a manual allows at a value, or what follows from it without one."""

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from sequencer.cli.options import MODEL, json_option


@click.command("limits")
@click.argument("model", type=MODEL)
@click.option("--measure", metavar="M", help='What is measured, for example "dc voltage".')
@click.option("--at", multiple=True, metavar="V", help='A value, for example "4 V"; may be given several times.')
@click.option("--frequency", metavar="F", help='Of an ac value, for example "50 Hz".')
@click.option("--temperature", metavar="T", help="Of the room; absent: the manual's conditions are assumed.")
@click.option("--range", "range_", metavar="R", help="The range it is locked to; absent: it chooses by itself.")
@click.option("--dial", metavar="D", help="One dial position; absent: all that offer the measure.")
@click.option("--waveform", metavar="W", help="sine, square or triangle; absent: sine.")
@click.option("--calibrated", metavar="DATE", help="When it was calibrated, for one accuracy per interval.")
@click.option("--on", metavar="DATE", help="Day of the measurement; absent: today.")
@json_option
def command(
    model: Path,
    measure: str | None,
    at: tuple[str, ...],
    frequency: str | None,
    temperature: str | None,
    range_: str | None,
    dial: str | None,
    waveform: str | None,
    calibrated: str | None,
    on: str | None,
    as_json: bool,
) -> None:
    """Print what the manual of MODEL allows at a value, or why it publishes nothing there.

    Without --at: what follows from the manual, such as the lowest value that each function is good for.

    As JSON: an array, one object for each value and dial position with measure, at, unit, frequency, dial, range,
    resolution, limit, low, high, shown_low, shown_high, percent and reason, in SI units, null where there is none.

    \b
    Examples:
      meterjury limits larkfield-l60.toml --measure "dc voltage" --at "4 V"
      meterjury limits larkfield-l60.toml
    """
    from sequencer.definitions import load_model
    from sequencer.definitions.manual_question import QuestionTexts, ask_manual
    from sequencer.reports.manual_facts import facts_json, facts_text
    from sequencer.reports.manual_limits import limits_json, limits_text

    texts = QuestionTexts(
        measure=measure,
        at=at,
        dial=dial,
        range=range_,
        frequency=frequency,
        temperature=temperature,
        waveform=waveform,
        calibrated=calibrated,
        on=on,
    )
    asked = load_model(model)
    question = ask_manual(asked, texts, today=datetime.now(UTC).date())
    if question.at:
        answer = limits_json(asked, question) if as_json else limits_text(asked, question)
    else:
        answer = facts_json(asked, question) if as_json else facts_text(asked, question)
    click.echo(answer if isinstance(answer, str) else json.dumps(answer, indent=2, ensure_ascii=False))
