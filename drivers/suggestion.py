"""Which dialect an instrument may speak, found by asking: questions only, so that nothing about it changes.

Makers' names decide nothing. A dialect fits where all of its questions for a role are answered with something that such
a question is answered with. A multimeter may lack functions that the dialect has words for.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from drivers.exchange import maybe_number
from drivers.failures import BadReply, NoAnswer
from drivers.links import Link
from sequencer.values.dialect import (
    CommonWords,
    DcSourceWords,
    Dialect,
    GeneratorWords,
    MultimeterWords,
    OutputWords,
    Role,
)
from sequencer.values.instruments import Fit
from sequencer.values.measure import Measure

ANSWER_S = 0.3
"""How long an answer may take; a question that is not understood gets none."""

_ENTRY = re.compile(r"[+-]?\d+\s*,")
"""How an entry of an error queue begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Questions that belong together: without an answer to the first, the others are not asked.

    Attributes:
        questions: At least one.
        measure: The function that they are about, which an instrument may lack.
    """

    questions: tuple[str, ...]
    measure: Measure | None = None


class _Answers:
    """Which questions an instrument answers; each is asked once."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self._known: dict[str, bool] = {}

    def count(self, questions: tuple[str, ...]) -> int:
        """How many are answered, none of them where the first is not."""
        if not self._is_answered(questions[0]):
            return 0
        return 1 + sum(self._is_answered(question) for question in questions[1:])

    def clean(self) -> None:
        """Take back what questions that were not understood left in the error queue."""
        if not all(self._known.values()):
            self._link.write(CommonWords().clear)

    def _is_answered(self, question: str) -> bool:
        if question not in self._known:
            self._known[question] = self._ask(question)
        return self._known[question]

    def _ask(self, question: str) -> bool:
        try:
            reply = self._link.query(question, timeout_s=ANSWER_S).strip()
        except (NoAnswer, BadReply):
            return False
        return maybe_number(reply) is not None or reply.strip('"').isalpha() or _ENTRY.match(reply) is not None


def fits(link: Link, dialects: Iterable[Dialect]) -> tuple[Fit, ...]:
    """How well each dialect fits, role by role; whole fits with the most questions first.

    Args:
        link: To an instrument that answers.
        dialects: To be compared.

    Raises:
        BenchError: The connection failed.
    """
    answers = _Answers(link)
    found = [_fit(dialect.name, role, groups, answers) for dialect in dialects for role, groups in _groups_of(dialect)]
    answers.clean()
    return tuple(sorted(found, key=lambda fit: (not fit.is_whole, -fit.answered / fit.questions, -fit.questions)))


def _fit(dialect: str, role: Role, groups: tuple[_Group, ...], answers: _Answers) -> Fit:
    counts = [(group, answers.count(group.questions)) for group in groups]
    lacks = tuple(group.measure for group, count in counts if group.measure and not count)
    if len(lacks) == sum(group.measure is not None for group in groups):
        lacks = ()  # a multimeter without any function is none
    counted = [(group, count) for group, count in counts if group.measure not in lacks or not lacks]
    return Fit(
        dialect=dialect,
        role=role,
        questions=sum(len(group.questions) for group, _ in counted),
        answered=sum(count for _, count in counted),
        lacks=lacks,
    )


def _groups_of(dialect: Dialect) -> Iterator[tuple[Role, tuple[_Group, ...]]]:
    queue = _Group(questions=(dialect.common.next_error,))
    if dialect.multimeter:
        yield "multimeter", (queue, *_of_multimeter(dialect.multimeter))
    if dialect.dc_source:
        yield "dc source", (queue, _of_dc_source(dialect.dc_source))
    if dialect.generator:
        yield "generator", (queue, _of_generator(dialect.generator))


def _of_multimeter(words: MultimeterWords) -> Iterator[_Group]:
    """A reading is not among the questions, because it may trigger something."""
    for function in words.functions:
        yield _group(function.ask_range, function.ask_aperture, measure=function.measure)


def _of_dc_source(words: DcSourceWords) -> _Group:
    tables = (words.voltage, words.current, words.mode, words.limiting)
    return _group(*_of_output(words.output), *(table.ask for table in tables if table is not None))


def _of_generator(words: GeneratorWords) -> _Group:
    load = words.load.ask if words.load else ""
    return _group(*_of_output(words.output), words.ask_frequency, words.ask_amplitude, load)


def _of_output(output: OutputWords) -> tuple[str, str]:
    return output.ask, output.watchdog.ask if output.watchdog else ""


def _group(*questions: str, measure: Measure | None = None) -> _Group:
    return _Group(questions=tuple(dict.fromkeys(filter(None, questions))), measure=measure)
