"""The bench as a process, from outside: sockets, a pseudo-terminal, and PyVISA as any client would use it."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import pyvisa

from simulators.mishaps import INSTRUMENT_MISHAPS
from tests.simulators.process import PATIENCE_S, Process
from tests.simulators.table import CONFIG, config


@pytest.fixture
def start() -> Iterator[Callable[..., Process]]:
    started: list[Process] = []

    def begin(**changes: Any) -> Process:
        started.append(Process(config(**changes)))
        return started[-1]

    yield begin
    for each in started:
        each.end()


def test_it_serves_until_its_input_ends(start: Callable[..., Process]) -> None:
    process = start()
    assert set(process.reply["addresses"]) == {"bench", "dc", "ac"}
    assert process.client("dc").ask("*IDN?") == "METERJURY,SIMULATED DC SOURCE,1,0"
    for number in (signal.SIGINT, signal.SIGHUP):
        process.child.send_signal(number)
    assert process.do("now") == {"ok": True, "now": 0.0}
    assert process.end() == 0


def test_it_ends_when_told(start: Callable[..., Process]) -> None:
    process = start()
    assert process.do("quit")["ok"]
    assert process.child.wait(PATIENCE_S) == 0


@pytest.mark.parametrize("line", ['{"seed": "x"}', "nonsense", ""])
def test_a_configuration_that_cannot_be_used(line: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "simulators"], input=line + "\n", capture_output=True, text=True, timeout=PATIENCE_S
    )
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith("simulated bench: ")
    assert ended.stderr.count("\n") == 1


def test_the_hands_of_the_person(start: Callable[..., Process]) -> None:
    process = start()
    source = process.client("dc")
    assert process.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=["A", "B"])["ok"]
    assert source.ask("VOLT 5;:CURR:LIM 10 mA;:OUTP ON;:SYST:ERR?") == '0,"No error"'
    assert process.do("outputs")["outputs"] == {"dc": True, "ac": False}
    assert process.do("advance", seconds=5) == {"ok": True, "now": 5.0}
    assert process.do("cue", text="step 1")["ok"]
    shown = process.do("display", meter="A", answer=True)
    assert (shown["unit"], shown["off"], shown["now"]) == ("V", False, 8.0)  # the person took three seconds
    assert abs(float(shown["text"]) - 5) <= 0.002
    assert process.do("dial", meter="A", dial="V", select="ac", jack="V")["ok"]
    assert process.do("fault", name="A", what="switched off")["ok"]
    assert process.do("display", meter="A", answer=False) == {
        "ok": True,
        "text": "",
        "unit": "",
        "off": True,
        "now": 8.0,
    }
    assert process.do("wake", meter="A")["ok"]
    assert process.do("display", meter="A", answer=False)["off"] is False


@pytest.mark.parametrize(
    ("request_line", "why"),
    [
        ("nonsense", "Expecting value: line 1 column 1 (char 0)"),
        ("[]", "a request is an object"),
        (
            '{"do": "jump"}',
            "no verb 'jump', there is now, advance, cue, wire, dial, relative, set, display, wake, outputs, fault,"
            " withheld, quit",
        ),
        ('{"do": "advance", "seconds": -1}', "seconds: got -1, accepted: a number from 0 on"),
        ('{"do": "display", "meter": "Z"}', "no meter 'Z'"),
        ('{"do": "wire", "kind": "star"}', "kind: got 'star', accepted: none, parallel, series, alone, shorted, open"),
        ('{"do": "wire", "kind": "series", "polarity": 2}', "polarity: got 2, accepted: 1, -1"),
        ('{"do": "wire", "kind": "series", "meters": "A"}', "meters: got 'A', accepted: a list of names"),
        ('{"do": "cue"}', "text: got None, accepted: a text"),
        (
            '{"do": "fault", "name": "dc", "what": "fire"}',
            f"what: got 'fire', accepted: {', '.join(INSTRUMENT_MISHAPS)}",
        ),
    ],
)
def test_requests_that_cannot_be_done(start: Callable[..., Process], request_line: str, why: str) -> None:
    process = start()
    reply = json.loads(process.control.ask(request_line))
    expected = "no 'Z' on this bench, there is A, B" if why == "no meter 'Z'" else why
    assert reply == {"ok": False, "why": expected}
    assert process.do("now") == {"ok": True, "now": 0.0}


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_frames_are_in_the_port_with_the_answer(start: Callable[..., Process]) -> None:
    process = start(meters=[{**CONFIG["meters"][0], "port": True, "update_s": 0.5, "noise_digits": 0}])
    path = process.reply["ports"]["A"].removeprefix("ASRL").removesuffix("::INSTR")
    descriptor = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    for _ in range(200):
        assert process.do("advance", seconds=0.5)["ok"]
        assert os.read(descriptor, 4096) == b"+0.000 V DC\r\n"
    os.close(descriptor)


def test_a_system_without_terminals_gets_sockets(monkeypatch: pytest.MonkeyPatch) -> None:
    from simulators.bench import Bench
    from simulators.config import parse_config
    from simulators.server import Server

    monkeypatch.delattr(os, "openpty", raising=False)
    server = Server(Bench(parse_config(json.dumps(config(meters=[{**CONFIG["meters"][0], "port": True}])))))
    assert server.ports["A"].startswith("TCPIP::127.0.0.1::")
    server.close()


def test_planted_mishaps(start: Callable[..., Process]) -> None:
    process = start()
    source = process.client("dc")
    assert process.do("fault", name="dc", what="garbage", times=1)["ok"]
    assert source.ask("OUTP?") == "#?\x7f!"
    assert source.ask("OUTP?") == "0"
    assert process.do("fault", name="dc", what="no answer", times=2)["ok"]
    source.tell("OUTP?")
    source.tell("*IDN?")
    assert source.ask("OUTP?") == "0"  # two replies were lost, the third came
    assert process.do("fault", name="dc", what="error in queue", times=1)["ok"]
    assert source.ask("SYST:ERR?") == '-240,"Hardware error"'
    assert process.do("fault", name="dc", what="connection dropped", times=1)["ok"]
    assert source.ask("OUTP?") == ""
    again = process.client("dc")
    assert again.ask("OUTP?") == "0"
    assert process.do("fault", name="dc", what="connection gone")["ok"]
    assert again.ask("OUTP?") == ""
    with pytest.raises(ConnectionRefusedError):
        process.client("dc")
    assert process.do("outputs")["outputs"]["dc"] is False  # it stands there as before, only nobody reaches it


def test_a_client_that_never_ends_its_line_overruns_the_buffer(start: Callable[..., Process]) -> None:
    source = start().client("dc")
    source.tell("x" * 200_000)
    found = source.ask("SYST:ERR?")
    while not found.startswith(("-363", "0")):
        found = source.ask("SYST:ERR?")
    assert found == '-363,"Input buffer overrun"'


def test_in_real_time_nobody_moves_the_clock_and_a_reading_takes_its_time(start: Callable[..., Process]) -> None:
    process = start(virtual=False)
    assert process.do("advance", seconds=1) == {"ok": False, "why": "time runs by itself on this bench"}
    multimeter, other = process.client("bench"), process.client("dc")
    assert multimeter.ask("CONF:VOLT:DC 10;:VOLT:NPLC 20;:SYST:ERR?") == '0,"No error"'
    before = process.do("now")["now"]
    multimeter.tell("READ?")
    assert other.ask("OUTP?") == "0"  # others are served meanwhile
    assert abs(float(multimeter.hear())) < 1e-3
    assert process.do("now")["now"] - before >= 0.4  # twenty cycles of 50 Hz


def test_in_real_time_a_message_before_the_reply_interrupts(start: Callable[..., Process]) -> None:
    multimeter = start(virtual=False).client("bench")
    assert multimeter.ask("CONF:VOLT:DC 10;:VOLT:NPLC 100;:SYST:ERR?") == '0,"No error"'
    multimeter.tell("READ?")
    assert multimeter.ask("SYST:ERR?") == '-410,"Query INTERRUPTED"'
    assert multimeter.ask("VOLT:NPLC 1;:ABOR;:READ?").startswith(("+", "-"))


def test_in_real_time_frames_come_by_themselves(start: Callable[..., Process]) -> None:
    process = start(virtual=False, meters=[{**CONFIG["meters"][0], "port": True, "update_s": 0.05, "noise_digits": 0}])
    path = process.reply["ports"]["A"].removeprefix("ASRL").removesuffix("::INSTR")
    with open(path, "rb", buffering=0) as port:
        heard = b""
        while heard.count(b"\n") < 3:
            heard += port.read(100)
    assert heard.startswith(b"+0.000 V DC\r\n+0.000 V DC\r\n")


def test_same_requests_same_answers(start: Callable[..., Process]) -> None:
    def session() -> list[str]:
        process = start()
        multimeter, source = process.client("bench"), process.client("dc")
        said = [
            process.control.ask('{"do":"wire","kind":"parallel","source":"dc","multimeters":["bench"],"meters":["A"]}')
        ]
        said.append(source.ask("VOLT 3.3;:OUTP ON;:SYST:ERR?"))
        said.append(multimeter.ask("CONF:VOLT:DC 10;:SYST:ERR?"))
        for number in range(20):
            said.append(process.control.ask(json.dumps({"do": "cue", "text": str(number)})))
            said.append(process.control.ask('{"do":"advance","seconds":0.7}'))
            said.append(multimeter.ask("READ?"))
            said.append(process.control.ask('{"do":"display","meter":"A","answer":true}'))
        return said

    assert session() == session()


def test_pyvisa_reaches_instruments_and_ports(start: Callable[..., Process]) -> None:
    process = start(meters=[{**CONFIG["meters"][0], "port": True, "update_s": 0.5, "noise_digits": 0}])
    manager = pyvisa.ResourceManager("@py")
    try:
        with manager.open_resource(
            process.reply["addresses"]["ac"], read_termination="\n", write_termination="\n", timeout=PATIENCE_S * 1000
        ) as generator:
            assert isinstance(generator, pyvisa.resources.MessageBasedResource)
            assert generator.query("*IDN?") == "METERJURY,SIMULATED GENERATOR,1,0"
            generator.write("FREQ 400;VOLT 1 VRMS;:OUTP:LOAD INF")
            assert float(generator.query("FREQ?")) == 400
            assert generator.query("SYST:ERR?") == '0,"No error"'
        if process.reply["ports"]["A"].startswith("ASRL"):
            with manager.open_resource(process.reply["ports"]["A"]) as port:
                assert isinstance(port, pyvisa.resources.SerialInstrument)
                process.do("advance", seconds=1.1)
                assert port.read_bytes(port.bytes_in_buffer) == b"+0.000 V DC\r\n" * 2
    finally:
        manager.close()


def test_it_starts_without_heavy_libraries() -> None:
    script = "import sys, simulators.server; print(sorted({'numpy', 'scipy', 'pint', 'pyvisa'} & set(sys.modules)))"
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=PATIENCE_S, check=True
    )
    assert ended.stdout == "[]\n"
