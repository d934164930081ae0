"""Brings one source to off over sessions of its own, again and again until the source itself says that it is off.

Nothing is assumed about how it was left: an empty line first ends a half-sent command, then off, then the question. Two
confirmations are wanted, a moment apart: a command of the dead run, or an answer to it, may still be on its way.
"""

import os
import time
from collections.abc import Callable

from drivers.guardian.orders import Charge
from drivers.links import Link, SerialSettings, VisaLink
from sequencer.errors import BenchError

QUERY_S = 0.5
"""Longest that a question may take, and the opening of a session."""
ONCE_MORE_S = 0.25
FIRST_PAUSE_S = 0.05
LONGEST_PAUSE_S = 1.0
"""A source that lets in one client may need a moment to notice that the dead one has left; later on, each second."""
SAY_AFTER_S = 1.0
"""So long off may take before a person is told that it has not worked."""
REMIND_S = 60.0

Say = Callable[[str], None]


def bring_to_off(
    charge: Charge,
    say: Say,
    *,
    give_up_s: float | None,
    pause: Callable[[float], None] = time.sleep,
    now: Callable[[], float] = time.monotonic,
) -> bool:
    """Say off until it is confirmed.

    Args:
        charge: The source.
        say: Tells a person one line.
        give_up_s: See `Orders.give_up_s`.
        pause: Waits for so many seconds.
        now: Seconds that only go forward.

    Returns:
        Whether the source confirmed twice that its output is off.
    """
    begun_s, said_s, pause_s = now(), -REMIND_S, FIRST_PAUSE_S
    place = f"{charge.name} at {charge.address}"
    link = VisaLink(
        charge.name,
        charge.address,
        timeout_s=QUERY_S,
        open_timeout_s=QUERY_S,
        exclusive=False,
        serial=SerialSettings(baud=charge.baud, ends_lines=True),
        ends=charge.ends,
    )
    with link:
        while failure := say_off(link, charge) or _once_more(link, charge, pause):
            tried_s = now() - begun_s
            is_hopeless = give_up_s is not None and tried_s >= give_up_s
            if is_hopeless or (tried_s >= SAY_AFTER_S and tried_s - said_s >= REMIND_S):
                said_s = tried_s
                say(f"OUTPUT MAY BE ON: {place} ({failure.removeprefix(f'{place}: ')})")
                say(
                    "given up"
                    if is_hopeless
                    else f"switch it off by hand; tried every second until kill -9 {os.getpid()}"
                )
            if is_hopeless:
                return False
            pause(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
    say(f"output off, confirmed: {place}")
    return True


def say_off(link: Link, charge: Charge) -> str:
    """Say off once and ask.

    Returns:
        What is wrong, empty if the source says that its output is off. The session is a new one after a failure.
    """
    try:
        link.write("")
        link.write(charge.off)
        reply = link.query(charge.ask, timeout_s=QUERY_S).strip().upper().lstrip("+")
        if reply in ("0", "OFF"):
            return ""
        link.renew()
        return "it says that its output is on" if reply in ("1", "ON") else f"it says {reply!r}"
    except Exception as error:  # noqa: BLE001  # whatever went wrong, off is tried again
        return error.message if isinstance(error, BenchError) else f"{type(error).__name__}: {error}"


def _once_more(link: Link, charge: Charge, pause: Callable[[float], None]) -> str:
    pause(ONCE_MORE_S)
    return say_off(link, charge)
