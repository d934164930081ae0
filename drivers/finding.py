"""What this computer sees of instruments, and what it cannot see for want of a library.

Looking for instruments on the network sends a broadcast to every machine there, so that it is done only when asked for.
"""

import os
import warnings
from typing import Any

from pyvisa_py.sessions import Session
from serial.tools.list_ports import comports

from drivers.failures import library_hint
from sequencer.values.instruments import Unseen, Visible

_NAMES = {"tcpip": "network", "usb": "USB", "gpib": "GPIB"}
"""Kinds of interface that are looked at, beside serial ports; PyVISA's own names of them."""


def look_around(*, network: bool) -> tuple[tuple[Visible, ...], tuple[Unseen, ...]]:
    """Addresses that this computer sees, serial ports first, and the kinds of interface that it cannot look at.

    Args:
        network: Whether the network is asked, by broadcast.
    """
    seen, unseen = _serial_ports(), []
    for (interface, _), why in Session.iter_session_classes_issues():
        if name := _NAMES.get(interface.name):
            hint = library_hint(why)
            reason = "a library is missing" if hint else why.splitlines()[0]
            unseen.append(Unseen(interface=name, why=reason, hint=hint))
    for (interface, _), session in Session.iter_valid_session_classes():
        name = _NAMES.get(interface.name)
        if name and (network or name != "network"):
            addresses, said = _listed(session)
            seen += [Visible(address=address, what=name) for address in addresses]
            unseen += [Unseen(interface=name, why=reason) for reason in said]
    if not network:
        why = "not asked: a search sends a broadcast to every machine there"
        unseen.append(Unseen(interface="network", why=why, hint="meterjury instruments --network"))
    return tuple(seen), tuple(dict.fromkeys(unseen))


def _listed(session: Any) -> tuple[list[str], list[str]]:
    """What one kind of interface lists, and what it says it cannot look at."""
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            addresses = [str(address) for address in session.list_resources()]
        except NotImplementedError:
            addresses = []  # a kind that has no list, and promises none
        except (OSError, ValueError) as error:
            return [], [f"{type(error).__name__}: {error}"]
    return addresses, [str(warning.message).splitlines()[0] for warning in said]


def _serial_ports() -> list[Visible]:
    return [
        Visible(
            address=f"ASRL{port.device.removeprefix('COM')}::INSTR",
            what="serial" if port.description in (None, "", "n/a") else f"serial, {port.description}",
            trouble=_why_not(port.device),
        )
        for port in sorted(comports(), key=lambda port: str(port.device))
    ]


def _why_not(device: str) -> str:
    if os.path.exists(device) and not os.access(device, os.R_OK | os.W_OK):
        return "you may not use it: join the group that owns it, on many systems `dialout`"
    return ""
