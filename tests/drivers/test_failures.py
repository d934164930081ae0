"""Every exception of the layers below becomes one of ours, with the device, the address and the next thing to try."""

import errno
import sys

import pytest
import serial
from pyvisa.constants import StatusCode
from pyvisa.errors import InvalidSession, VisaIOError

from drivers.failures import BadReply, NoAnswer, mapped
from sequencer.errors import BenchError


def failing(error: BaseException, *, opening: bool = False) -> BenchError:
    with pytest.raises(BenchError) as caught, mapped("dc", "TCPIP::x::1::SOCKET", "query '*IDN?'", opening=opening):
        raise error
    assert caught.value.message.startswith("dc at TCPIP::x::1::SOCKET: query '*IDN?': ")
    assert caught.value.hint
    assert caught.value.exit_code == 4
    assert caught.value.__cause__ is error
    return caught.value


def test_a_time_out_is_no_answer() -> None:
    assert isinstance(failing(VisaIOError(StatusCode.error_timeout)), NoAnswer)


def test_another_visa_error_keeps_its_description() -> None:
    error = failing(VisaIOError(StatusCode.error_io))
    assert not isinstance(error, NoAnswer)
    assert "I/O" in error.message


def test_a_session_that_is_gone() -> None:
    assert not isinstance(failing(InvalidSession()), NoAnswer)


def test_bytes_that_are_no_text_are_kept() -> None:
    error = failing(UnicodeDecodeError("utf-8", b"\xff\xfe", 0, 1, "invalid start byte"))
    assert isinstance(error, BadReply)
    assert error.raw == b"\xff\xfe"


@pytest.mark.parametrize(
    ("number", "hint"),
    [
        (errno.ECONNREFUSED, "nothing listens there"),
        (errno.EHOSTUNREACH, "the network does not reach it"),
        (errno.EACCES, "`dialout`"),
        (errno.EBUSY, "another program has that port"),
        (errno.EIO, "the adapter is gone"),
        (errno.ESTALE, "its address in the bench file is right"),
    ],
)
def test_errors_of_the_system_say_what_to_try(number: int, hint: str) -> None:
    assert hint in failing(OSError(number, "words of the system")).hint
    assert hint in failing(serial.SerialException(number, "words of the system")).hint


@pytest.mark.skipif(sys.platform == "win32", reason="no terminals there")
def test_an_error_of_a_terminal_is_no_error_of_the_system_but_is_told_alike() -> None:
    import termios

    error = termios.error(errno.EINVAL, "Invalid argument")
    assert not isinstance(error, OSError)
    assert "see baud and data_bits" in failing(error).hint


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        ("Please install PySerial (>=3.0) to use this resource type.", "pyvisa-py[serial]"),
        ("Please install PyUSB to use this resource type.\nNo module named 'usb'", "pip install pyusb"),
        ("Please install linux-gpib (Linux) or gpib-ctypes (Windows, Linux) to use this", "pip install gpib-ctypes"),
    ],
)
def test_a_missing_library_is_named(words: str, hint: str) -> None:
    told = failing(ValueError(words), opening=True)
    assert told.message.endswith("a library is missing for this kind of address")
    assert hint in told.hint


def test_any_exception_counts_while_opening_and_only_there() -> None:
    assert "could not connect" in failing(Exception("could not connect: timed out"), opening=True).message
    with pytest.raises(ZeroDivisionError), mapped("dc", "x", "query"):
        _ = 1 / 0


def test_an_error_of_ours_passes_unchanged() -> None:
    ours = BenchError("as it was")
    with pytest.raises(BenchError) as caught, mapped("dc", "x", "query"):
        raise ours
    assert caught.value is ours
