"""Puts an instrument through its paces: every word of a dialect for one role, with what was answered and complained.

The output of a source stays off unless it is asked for, and then gives a tenth of a volt for a moment; whatever
happens, it is off at the end. A source whose output is on when it is met, or that does not say, is left alone.
"""

from collections.abc import Generator, Iterable, Iterator
from dataclasses import replace

from drivers.exchange import Exchange
from drivers.failures import BadReply, NoAnswer
from drivers.links import Link
from drivers.output import Output
from drivers.steps import Step, beginning, of_dc_source, of_generator, of_multimeter, of_output, state
from sequencer.values.dialect import CommonWords, DcSourceWords, Dialect, GeneratorWords, Role
from sequencer.values.instruments import Pace


def walk(
    link: Link, dialect: Dialect, role: Role, *, mains_hz: float = 50.0, with_output: bool = False
) -> Generator[Pace, None, None]:
    """Say every word, one after the other.

    Args:
        link: To the instrument; its identity has been asked already.
        dialect: What it is tried with.
        role: What it is tried as; one of the dialect's.
        mains_hz: Of the place, for apertures in seconds.
        with_output: Whether the output of a source is switched on for a moment, at a harmless level.

    Yields:
        Each word as it was said. Close the iterator to end the walk: the output is off then.

    Raises:
        BenchError: The connection failed.
        OutputMayBeOn: A source did not confirm that its output is off.
    """
    speaker = _Speaker(link, dialect.common)
    yield from speaker.say(beginning(dialect.common))
    if role == "multimeter":
        assert dialect.multimeter is not None
        yield from speaker.say(of_multimeter(dialect.multimeter, mains_hz))
        return
    words = dialect.dc_source if role == "dc source" else dialect.generator
    assert words is not None
    yield from _walk_source(speaker, words, with_output)


def _walk_source(speaker: "_Speaker", words: DcSourceWords | GeneratorWords, with_output: bool) -> Iterator[Pace]:
    key = "dc_source" if isinstance(words, DcSourceWords) else "generator"
    (met,) = speaker.say([Step(key=f"{key}.output.ask", text=words.output.ask, accept=state(is_on=False))])
    yield met
    if not met.is_good:
        return
    steps = of_dc_source(words) if isinstance(words, DcSourceWords) else of_generator(words)
    try:
        yield from speaker.say(steps)
        if with_output:
            yield from speaker.say(of_output(key, words.output))
        yield from speaker.say([Step(key="common.reset", text=words.common.reset)])
    finally:
        Output(speaker.exchange, words.output).switch_off(afresh=True)


class _Speaker:
    """Says steps and hears what comes of them."""

    def __init__(self, link: Link, words: CommonWords) -> None:
        self.exchange = Exchange(link, words)
        self._has_queue = False  # until it has answered once, or every word would take a time-out

    def say(self, steps: Iterable[Step]) -> Iterator[Pace]:
        """Say each step, and read the error queue after it."""
        refused = ""
        for step in steps:
            if refused and step.group == refused:
                continue
            answer, trouble, note = self._said(step)
            if step.text == self.exchange.words.next_error and not trouble:
                self._has_queue = True
                note = "; ".join(filter(None, (note, *(self._errors() or ()))))
            errors = self._errors()
            pace = Pace(
                key=step.key,
                sent=step.text,
                answer=answer,
                errors=errors,
                trouble=trouble,
                note=note,
                about=step.about,
            )
            if step.opens_group and not pace.is_good:
                refused = step.group
                pace = replace(pace, note="the rest of this function is left out")
            yield pace

    def _said(self, step: Step) -> tuple[str | None, str, str]:
        link = self.exchange.link
        if step.accept is None:
            link.write(step.text)
            return None, "", ""
        try:
            answer = link.query(step.text, timeout_s=step.timeout_s)
        except NoAnswer:
            return None, "no answer", ""
        except BadReply as error:
            return None, f"no text: {error.raw!r}", ""
        return answer, *step.accept(answer)

    def _errors(self) -> tuple[str, ...] | None:
        if not self._has_queue:
            return None
        try:
            return self.exchange.errors()
        except (NoAnswer, BadReply):
            self._has_queue = False
            return ("the error queue does not answer any more",)
