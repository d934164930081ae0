import pytest

from drivers.exchange import MOST_ERRORS, Exchange, spoken
from drivers.failures import BadReply
from drivers.scripted import ScriptedLink
from sequencer.errors import BenchError
from sequencer.values.dialect import CommonWords


def exchange(*replies: str) -> tuple[Exchange, ScriptedLink]:
    waiting = list(replies)
    link = ScriptedLink(lambda line: waiting.pop(0) if line.endswith("?") else None, device="dc")
    return Exchange(link, CommonWords()), link


@pytest.mark.parametrize(
    ("reply", "value"),
    [
        # IEEE 488.2-1992 8.7.2 to 8.7.4 (check value I-12): NR1, NR2, NR3.
        ("3", 3.0),
        ("+3", 3.0),
        ("-0.412", -0.412),
        ("3.", 3.0),
        (".5", 0.5),
        ("+1.23400000E-03", 1.234e-3),
        (" 1e3\r", 1000.0),
    ],
)
def test_numbers_are_read_as_the_standard_writes_them(reply: str, value: float) -> None:
    asked, _ = exchange(reply)
    assert asked.number("VOLT?") == value


@pytest.mark.parametrize("reply", ["", "3 V", "3,4", "nan", "inf", "0x10", "1_000", "3.0;", "٣"])
def test_what_is_no_number_is_an_error_with_the_reply_and_a_new_session(reply: str) -> None:
    asked, link = exchange(reply, "1")
    with pytest.raises(BadReply) as caught:
        asked.number("VOLT?")
    assert caught.value.message == f"dc at SCRIPTED::INSTR: 'VOLT?' got {reply!r}, accepted: a number"
    assert caught.value.raw == reply.encode()
    assert asked.number("VOLT?") == 1.0
    assert link.sessions == 2


@pytest.mark.parametrize("empty", ["0", "+0", '0,"No error"', '+0,"No error"', "0, No error"])
def test_an_empty_queue_has_many_spellings(empty: str) -> None:
    # Check value I-10: accept 0, +0, with and without text.
    asked, link = exchange(empty)
    asked.set("VOLT 3")
    assert link.written == ["VOLT 3", "SYST:ERR?"]


def test_the_queue_is_read_empty_and_every_entry_is_told() -> None:
    asked, _ = exchange('-222,"Data out of range"', '-113,"Undefined header"', '0,"No error"')
    with pytest.raises(BenchError) as caught:
        asked.set("VOLT 300")
    assert caught.value.message == (
        "dc at SCRIPTED::INSTR complains after 'VOLT 300': -222 Data out of range; -113 Undefined header"
    )


def test_a_queue_that_does_not_end_is_no_queue() -> None:
    asked, link = exchange(*['-350,"Queue overflow"'] * (MOST_ERRORS + 1))
    with pytest.raises(BenchError, match="its error queue does not end"):
        asked.errors()
    assert len(link.written) == MOST_ERRORS


def test_an_entry_without_a_number_is_nonsense() -> None:
    asked, _ = exchange("No error")
    with pytest.raises(BadReply, match="got 'No error', accepted: a number and a text"):
        asked.set("VOLT 3")


def test_a_reset_waits_until_all_is_done() -> None:
    asked, link = exchange("+1", "0")
    asked.reset(timeout_s=5.0)
    assert link.written == ["*RST", "*CLS", "*OPC?", "SYST:ERR?"]


def test_a_reset_that_is_answered_with_anything_else_is_nonsense() -> None:
    asked, _ = exchange("0")
    with pytest.raises(BadReply, match=r"'\*OPC\?' got '0', accepted: 1"):
        asked.reset(timeout_s=5.0)


@pytest.mark.parametrize(
    ("number", "text"),
    [(3.0, "3"), (-0.412, "-0.412"), (1e-7, "1E-07"), (0.1 + 0.2, "0.3"), (1234567.891, "1234567.891")],
)
def test_numbers_are_said_with_ten_digits(number: float, text: str) -> None:
    assert spoken(number) == text
