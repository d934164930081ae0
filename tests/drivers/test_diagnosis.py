"""Why an instrument does not answer, against small instruments on loopback that each have one bad habit."""

import socket

import pytest

from drivers.diagnosis import who_is_there
from drivers.failures import BadReply, NoAnswer
from sequencer.errors import BenchError
from tests.drivers.instrument import Instrument


def saying(reply: bytes, question: str = "*IDN?") -> object:
    def answer(line: str, client: socket.socket) -> None:
        if line == question:
            client.sendall(reply)

    return answer


def instrument(reply: bytes, *, ends: bytes = b"\n") -> Instrument:
    return Instrument(saying(reply), ends=ends)  # type: ignore[arg-type]  # the same callable, made by a function


def test_who_answers_is_told() -> None:
    with instrument(b"METERJURY,TEST,1,0\r\n") as device:
        assert who_is_there("it", device.address) == "METERJURY,TEST,1,0"
    assert device.lines == ["*IDN?"]


def test_another_device_is_told_with_its_words() -> None:
    with instrument(b"METERJURY,TEST,1,0\n") as device, pytest.raises(BadReply, match="expected 'W9', got 'METERJURY"):
        who_is_there("it", device.address, identity="W9")


def test_a_question_of_the_dialect_is_asked() -> None:
    with Instrument(saying(b"ME\n", "ID?")) as device:  # type: ignore[arg-type]
        assert who_is_there("it", device.address, identify="ID?") == "ME"


@pytest.mark.parametrize(
    ("reply", "heard_by", "said", "hint"),
    [
        (b"ME\r", b"\n", r"it answers 'ME\\r', a line that ends with CR; its dialect ends them with LF", 'ends = "CR"'),
        (b"ME\r", b"\r", r"it answers 'ME\\r' when lines end with CR; its dialect ends them with LF", 'ends = "CR"'),
        (b"ME\n", b"\r\n", r"it answers 'ME\\n' when lines end with CR LF; its dialect", 'ends = "CR LF"'),
        (b"ME", b"\n", "it sends 'ME', which is no line of text", "baud"),
        (b"\xff\x00\xfe\n", b"\n", "no text", "baud"),
        (b"\xff\x00\xfe", b"\n", r"it sends '\\xff\\x00\\xfe', which is no line of text", "baud"),
    ],
)
def test_lines_that_end_otherwise(reply: bytes, heard_by: bytes, said: str, hint: str) -> None:
    with instrument(reply, ends=heard_by) as device, pytest.raises(BenchError, match=said) as caught:
        who_is_there("it", device.address)
    assert hint in caught.value.hint


def test_ends_of_the_dialect_are_used() -> None:
    with instrument(b"ME\r", ends=b"\r") as device:
        assert who_is_there("it", device.address, ends="\r") == "ME"


def test_nobody_answers() -> None:
    with instrument(b"", ends=b"\n") as device, pytest.raises(NoAnswer, match="no answer in time") as caught:
        who_is_there("it", device.address)
    assert "what does not know *IDN? needs a dialect file with its own `identify`" in caught.value.hint
    assert {line.strip() for line in device.lines} == {"*IDN?"}, "nothing is said but the question"


def test_nothing_listens() -> None:
    with socket.create_server(("127.0.0.1", 0)) as closed:
        number = closed.getsockname()[1]
    with pytest.raises(BenchError, match="Connection refused") as caught:
        who_is_there("it", f"TCPIP::127.0.0.1::{number}::SOCKET")
    assert "nothing listens there" in caught.value.hint


@pytest.mark.parametrize(
    ("address", "said", "hint"),
    [
        ("TCPIP:127.0.0.1::5025::SOCKET", "Invalid resource reference", 'an address looks like "TCPIP::192.0.2.10'),
        ("ASRL/dev/nowhere::INSTR", "No such file", "there is no such port"),
    ],
)
def test_addresses_that_cannot_be_opened(address: str, said: str, hint: str) -> None:
    with pytest.raises(BenchError, match=said) as caught:
        who_is_there("it", address)
    assert hint in caught.value.hint
