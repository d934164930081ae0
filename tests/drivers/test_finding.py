from types import SimpleNamespace
from typing import Any

import pytest
from pyvisa.constants import InterfaceType

from drivers import finding
from drivers.finding import look_around


class Interface:
    """A kind of interface that lists what a test wants, and says what a test wants."""

    def __init__(self, listed: list[str] | Exception) -> None:
        self._listed = listed
        self.asked = 0

    def list_resources(self) -> list[str]:
        self.asked += 1
        if isinstance(self._listed, Exception):
            raise self._listed
        return self._listed


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> dict[str, Interface]:
    """A computer with two serial ports, a network, and libraries for GPIB but not for USB."""
    there = {
        "tcpip": Interface(["TCPIP::192.0.2.10::INSTR"]),
        "gpib": Interface(["GPIB0::5::INSTR"]),
        "asrl": Interface(AssertionError("serial ports are listed separately")),
    }
    issues = {"usb": "Please install PyUSB to use this resource type.\nNo module named 'usb'"}
    session = SimpleNamespace(
        iter_valid_session_classes=lambda: [((InterfaceType[name], "INSTR"), kind) for name, kind in there.items()],
        iter_session_classes_issues=lambda: [((InterfaceType[name], "INSTR"), why) for name, why in issues.items()],
    )
    monkeypatch.setattr(finding, "Session", session)
    ports: list[Any] = [
        SimpleNamespace(device="/dev/ttyUSB1", description="optical adapter"),
        SimpleNamespace(device="/dev/ttyS0", description="n/a"),
    ]
    monkeypatch.setattr(finding, "comports", lambda: ports)
    return there


def test_serial_ports_come_first_and_the_network_is_left_alone(machine: dict[str, Interface]) -> None:
    seen, unseen = look_around(network=False)
    assert [(one.address, one.what) for one in seen] == [
        ("ASRL/dev/ttyS0::INSTR", "serial"),
        ("ASRL/dev/ttyUSB1::INSTR", "serial, optical adapter"),
        ("GPIB0::5::INSTR", "GPIB"),
    ]
    assert machine["tcpip"].asked == machine["asrl"].asked == 0
    assert [(one.interface, one.why, one.hint) for one in unseen] == [
        ("USB", "a library is missing", "pip install pyusb, and have libusb on this system"),
        (
            "network",
            "not asked: a search sends a broadcast to every machine there",
            "meterjury instruments --network",
        ),
    ]


def test_the_network_is_asked_when_a_person_wants_it(machine: dict[str, Interface]) -> None:
    seen, unseen = look_around(network=True)
    assert ("TCPIP::192.0.2.10::INSTR", "network") in [(one.address, one.what) for one in seen]
    assert machine["tcpip"].asked == 1
    assert [one.interface for one in unseen] == ["USB"]


def test_an_interface_that_fails_says_why(machine: dict[str, Interface]) -> None:
    machine["gpib"] = Interface(OSError("no board"))
    seen, unseen = look_around(network=False)
    assert all(one.what != "GPIB" for one in seen)
    assert ("GPIB", "OSError: no board") in [(one.interface, one.why) for one in unseen]


def test_a_port_that_may_not_be_used_says_which_group_to_join(
    machine: dict[str, Interface], monkeypatch: pytest.MonkeyPatch
) -> None:
    del machine
    monkeypatch.setattr("os.path.exists", lambda path: True)
    monkeypatch.setattr("os.access", lambda path, mode: path != "/dev/ttyS0")
    seen, _ = look_around(network=False)
    assert ["dialout" in one.trouble for one in seen[:2]] == [True, False]


def test_this_very_machine_can_be_looked_at() -> None:
    _, unseen = look_around(network=False)
    assert "network" in [one.interface for one in unseen]
