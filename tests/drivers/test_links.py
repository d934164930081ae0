"""Links over real PyVISA sessions: sockets on loopback, pseudo-terminals."""

import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator

import pytest
import pyvisa

from drivers.exclusive import Hold, lock_file
from drivers.failures import BadReply, NoAnswer
from drivers.links import BACKEND, SerialSettings, VisaLink, open_link
from drivers.ports import open_port
from sequencer.errors import BenchError
from sequencer.values.bench import Port
from tests.drivers.instrument import Instrument, echoing

SOON_S = 0.2


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """The near end of a pseudo-terminal and the address of its far end."""
    if not hasattr(os, "openpty"):
        pytest.skip("no pseudo-terminals here")
    near, far = os.openpty()
    yield near, f"ASRL{os.ttyname(far)}::INSTR"
    os.close(near)
    os.close(far)


def visible(link: VisaLink, count: int) -> bytes:
    """Bytes that were written to a pseudo-terminal need a moment to be seen at its other end."""
    arrived = b""
    while len(arrived) < count:
        arrived += link.take()
    return arrived


def test_a_line_goes_there_and_one_comes_back() -> None:
    with Instrument(echoing) as instrument, VisaLink("dc", instrument.address) as link:
        link.write("VOLT 3")
        assert link.query("VOLT?") == "VOLT?"
        assert link.query("CURR?") == "CURR?"
        assert instrument.lines == ["VOLT 3", "VOLT?", "CURR?"]
        assert instrument.sessions == 1


def test_small_lines_are_not_held_back() -> None:
    with Instrument(echoing) as instrument, VisaLink("dc", instrument.address) as link:
        link.open()
        resource = link._resource
        assert resource is not None
        below = resource.visalib.sessions[resource.session].interface  # type: ignore[attr-defined]
        assert below.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


def test_after_half_a_reply_the_next_answer_is_the_next_questions() -> None:
    def halting(line: str, client: socket.socket) -> None:
        client.sendall(b"+3.0" if line == "READ?" else line.encode() + b"\n")

    with Instrument(halting) as instrument, VisaLink("bench", instrument.address, timeout_s=SOON_S) as link:
        with pytest.raises(NoAnswer) as caught:
            link.query("READ?")
        assert caught.value.message == f"bench at {instrument.address}: query 'READ?': no answer in time"
        assert link.query("VOLT?", timeout_s=20.0) == "VOLT?"
        assert instrument.sessions == 2


def test_an_answer_that_comes_late_is_never_taken_for_another() -> None:
    def late(line: str, client: socket.socket) -> None:
        if line == "*IDN?":
            client.sendall(b"late answer to READ?\n" * (len(instrument.lines) > 1 and instrument.sessions == 1))
            client.sendall(b"me\n")

    with Instrument(late) as instrument, VisaLink("bench", instrument.address, timeout_s=SOON_S) as link:
        with pytest.raises(NoAnswer):
            link.query("READ?")
        assert link.query("*IDN?", timeout_s=20.0) == "me"


class Unhurried:
    """Waits on until it is told that a reply will not come; lets an instrument answer after a while."""

    def __init__(self, slices: int) -> None:
        self._slices = slices
        self.asked: list[tuple[str, float, int]] = []
        self.may_answer = threading.Event()

    def slice_s(self, timeout_s: float) -> float:
        return 0.02

    def is_over(self, device: str, timeout_s: float, slices: int) -> bool:
        self.asked.append((device, timeout_s, slices))
        if slices == 2:
            self.may_answer.set()
        return slices >= self._slices

    def rest(self, seconds: float) -> None:
        raise AssertionError(seconds)


def test_whose_time_is_counted_waits_until_somebody_says_that_it_is_over() -> None:
    patience = Unhurried(slices=1000)

    def reply(line: str, client: socket.socket) -> None:
        assert patience.may_answer.wait(20)
        client.sendall(b"3.0\n")

    with Instrument(reply) as instrument, VisaLink("dc", instrument.address, patience=patience) as link:
        assert link.query("READ?", timeout_s=2.0) == "3.0"
    assert patience.asked[:2] == [("dc", 2.0, 1), ("dc", 2.0, 2)]


def test_what_is_said_to_be_over_is_a_time_out_in_a_session_that_is_given_up() -> None:
    patience = Unhurried(slices=1)
    with (
        Instrument(lambda line, client: None) as instrument,
        VisaLink("dc", instrument.address, patience=patience) as link,
    ):
        with pytest.raises(NoAnswer):
            link.query("READ?")
        with pytest.raises(NoAnswer):
            link.query("READ?")
        assert instrument.sessions == 2


def test_a_closed_connection_is_not_called_a_time_out() -> None:
    def rude(line: str, client: socket.socket) -> None:
        client.shutdown(socket.SHUT_RDWR)

    with Instrument(rude) as instrument, VisaLink("dc", instrument.address, timeout_s=SOON_S) as link:
        with pytest.raises(BenchError, match="it closed the connection") as caught:
            link.query("*IDN?")
        assert not isinstance(caught.value, NoAnswer)


def test_a_reply_that_is_no_text_is_shown() -> None:
    def garbled(line: str, client: socket.socket) -> None:
        client.sendall(b"\xff\xfe\n")

    with Instrument(garbled) as instrument, VisaLink("dc", instrument.address) as link:
        with pytest.raises(BadReply) as caught:
            link.query("*IDN?")
        assert caught.value.raw == b"\xff\xfe\n"


def test_a_dead_port_is_an_error_at_opening() -> None:
    address = f"TCPIP::127.0.0.1::{free_port()}::SOCKET"
    with pytest.raises(BenchError) as caught:
        open_link("dc", address)
    assert "Connection refused" in caught.value.message
    assert "nothing listens there" in caught.value.hint


@pytest.mark.parametrize(
    ("address", "message"),
    [
        ("ASRL/dev/there-is-no-such-port::INSTR", "No such file"),
        ("what is this", "dc at what is this: open: "),
        ("GPIB0::22::INSTR", "dc at GPIB0::22::INSTR: open: "),
    ],
)
def test_what_cannot_be_opened_is_an_error_of_the_bench(address: str, message: str) -> None:
    with VisaLink("dc", address) as link, pytest.raises(BenchError, match=message) as caught:
        link.query("*IDN?")
    assert caught.value.exit_code == 4
    assert caught.value.hint


def test_opening_includes_identifying() -> None:
    with Instrument(echoing) as instrument:
        link, reply = open_link("dc", instrument.address, identity="idn")
        with link:
            assert reply == "*IDN?"
        with pytest.raises(BadReply, match=r"expected 'LARKFIELD', got '\*IDN\?'"):
            open_link("dc", instrument.address, identity="LARKFIELD")


def test_what_arrives_is_taken_without_waiting() -> None:
    def streaming(line: str, client: socket.socket) -> None:
        client.sendall(b"+3.9" if line == "half" else b"98 V\r\n")

    with Instrument(streaming) as instrument, VisaLink("A", instrument.address) as link:
        assert link.take() == b""
        link.write("half")
        assert visible(link, 4) == b"+3.9"
        link.write("rest")
        assert visible(link, 6) == b"98 V\r\n"


def test_a_streaming_connection_that_ends_is_an_error() -> None:
    def ending(line: str, client: socket.socket) -> None:
        client.shutdown(socket.SHUT_RDWR)

    with Instrument(ending) as instrument, VisaLink("A", instrument.address) as link:
        link.write("end")
        with pytest.raises(BenchError, match="it closed the connection"):
            visible(link, 1)


def test_a_closed_link_stays_closed() -> None:
    link = VisaLink("dc", "TCPIP::127.0.0.1::1::SOCKET")
    link.close()
    link.close()
    with pytest.raises(RuntimeError, match="the link to dc is closed"):
        link.query("*IDN?")


# Serial ports


def test_a_serial_port_gives_exactly_what_has_arrived(terminal: tuple[int, str]) -> None:
    near, address = terminal
    with VisaLink("A", address, serial=SerialSettings(baud=2400)) as link:
        link.open()
        assert link.take() == b""
        os.write(near, b"+3.9")
        assert visible(link, 4) == b"+3.9"
        os.write(near, b"98 V DC\r\n")
        assert visible(link, 9) == b"98 V DC\r\n"


def test_a_meter_on_a_serial_port_is_read_whole(terminal: tuple[int, str]) -> None:
    near, address = terminal
    with open_port(Port(label="A", address=address)) as port:
        assert port.format == "lines"
        frames = list(port.poll())
        os.write(near, b"98 V DC\r\n+3.998 V DC\r\n+4.00")
        while not frames:
            frames += port.poll()
        assert [(frame.value, frame.unit) for frame in frames] == [("+3.998", "V")]


@pytest.mark.parametrize(("ends", "reply"), [("\n", b"ME\n"), ("\r", b"ME\r"), ("\r\n", b"ME\r\n")])
def test_an_instrument_on_a_serial_port_ends_lines_as_its_dialect_says(
    terminal: tuple[int, str], ends: str, reply: bytes
) -> None:
    near, address = terminal
    with VisaLink("dc", address, serial=SerialSettings(baud=19200, ends_lines=True), ends=ends) as link:
        link.open()
        os.write(near, reply + reply)
        assert [link.query("*IDN?"), link.query("*IDN?")] == ["ME", "ME"]
        said, wanted = b"", 2 * f"*IDN?{ends}".encode()
        while len(said) < len(wanted):
            said += os.read(near, 100)
    assert said == wanted


def test_settings_that_a_port_cannot_do_are_named(terminal: tuple[int, str]) -> None:
    _, address = terminal
    with pytest.raises(BenchError, match=r"A at ASRL.*: open"):
        open_port(Port(label="A", address=address, data_bits=7))


def test_the_lines_that_power_an_adapter_are_set_on_the_port(terminal: tuple[int, str]) -> None:
    _, address = terminal
    link = VisaLink("A", address, serial=SerialSettings())
    # A pseudo-terminal has no such lines; what counts is that the words reach the port below.
    said: dict[str, bool] = {}

    class Below:
        def __setattr__(self, name: str, value: bool) -> None:
            said[name] = value

    with pytest.MonkeyPatch.context() as patch, link:
        link.open()
        patch.setattr("drivers.links._layer_below", lambda resource: Below())
        link._serial = SerialSettings(dtr=True, rts=False)
        assert link._resource is not None
        link._set_serial(link._resource)  # type: ignore[arg-type]
    assert said == {"dtr": True, "rts": False}


# One process at a time

HOLDER = """
import sys
from drivers.exclusive import Hold
hold = Hold("dc", sys.argv[1])
hold.acquire()
print("held", flush=True)
sys.stdin.read()
"""


def test_another_process_is_refused_until_the_first_is_gone() -> None:
    address = f"TCPIP::exclusive::{os.getpid()}::SOCKET"
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, address], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout
        assert other.stdout.readline() == b"held\n"
        hold = Hold("dc", address)
        with pytest.raises(BenchError, match="another run is using it"):
            hold.acquire()
        other.kill()
        other.wait()
        hold.acquire()
        hold.release()
    lock_file(address).unlink(missing_ok=True)


def test_one_process_may_hold_an_address_twice() -> None:
    address = f"TCPIP::twice::{os.getpid()}::SOCKET"
    first, second = Hold("dc", address), Hold("bench", address)
    first.acquire()
    first.acquire()
    second.acquire()
    first.release()
    assert lock_file(address).exists()
    second.release()
    second.release()
    assert not lock_file(address).exists()


def test_a_resource_manager_that_somebody_closed_is_made_anew() -> None:
    pyvisa.ResourceManager(BACKEND).close()
    with Instrument(echoing) as instrument, VisaLink("dc", instrument.address) as link:
        assert link.query("VOLT?") == "VOLT?"
