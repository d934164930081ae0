"""Random strings against the decoders of fixed-length frames: nothing raises, and no reading comes out that no display
shows. `python -m tests.drivers.random_frames` tries a million of each.
"""

import random

from drivers.formats import range_code, segments, status_bits, text_frame
from drivers.frames import Frame
from sequencer.values.displayed import parse_displayed
from simulators.frames import FRAMES, Display

DECODERS = {
    "segments-14": segments.decode,
    "text-14": text_frame.decode,
    "status-bits-14": status_bits.decode,
    "range-code-14": range_code.decode,
}
STRUCTURES = {
    "segments-14": segments.has_structure,
    "text-14": text_frame.has_structure,
    "status-bits-14": status_bits.has_structure,
    "range-code-14": range_code.has_structure,
}
SIGNS = ("auto range", "hold", "relative", "low battery")
"""What a simulated meter can light."""

_GLYPHS = bytes.fromhex("7d055b1f273e7e157f3f6800")


def count_readings(name: str, count: int) -> int:
    """How many of `count` random strings a format takes as readings, each held against what a display can show."""
    stream = random.Random(14)
    accepted = 0
    for place in range(count):
        frame = stream.randbytes(14)
        if place % 10:
            frame = _shaped(name, bytearray(frame), stream, has_digits=bool(place % 2))
        if STRUCTURES[name](frame):
            found = DECODERS[name](frame)
            if found.value:
                accepted += 1
                _hold(name, found)
    return accepted


def _hold(name: str, found: Frame) -> None:
    """A reading parses as a display, and a meter that shows it sends a frame that reads the same."""
    assert parse_displayed(f"{found.value} {found.unit}", found.unit).unit == found.unit
    signs = tuple(mark for mark in found.marks if mark in SIGNS)
    again = FRAMES[name](Display(text=found.value, unit=found.unit, measures=found.function, signs=frozenset(signs)))
    if again is not None:
        read = DECODERS[name](again)
        assert (read.value, read.unit, read.function, read.marks) == (found.value, found.unit, found.function, signs)


def _shaped(name: str, frame: bytearray, stream: random.Random, *, has_digits: bool) -> bytes:
    """Random bytes with a frame's structure: chance alone would hardly ever get so far."""
    if name == "segments-14":
        frame = bytearray((at << 4) + (byte & 0xF) for at, byte in enumerate(frame, start=1))
        for digit in range(1, 9, 2) if has_digits else ():
            code = stream.choice(_GLYPHS)
            frame[digit] = frame[digit] & 0xF8 | code >> 4
            frame[digit + 1] = frame[digit + 1] & 0xF0 | code & 0xF
    elif name == "range-code-14":
        frame[:12] = bytes(0x30 + (byte % 10 if 1 <= at <= 5 else byte & 0xF) for at, byte in enumerate(frame[:12]))
        frame[12:] = b"\r\n"
    elif name == "status-bits-14":
        frame[0:1] = stream.choice([b"+", b"-"])
        frame[1:5] = b"%04d" % stream.randrange(10000)
        frame[5:7] = b" " + stream.choice([b"0", b"1", b"2", b"4"])
        frame[12:] = b"\r\n"
    else:
        frame[:13] = bytes(stream.choice(b" .0123456789-+OLACDVmkMuHzF%") for _ in range(13))
        frame[0:2] = stream.choice([b"DC", b"AC", b"OH", b"CA"])
        if has_digits:
            frame[9:13] = stream.choice([b"   V", b"  mV", b"  uA", b"KOhm", b"  nF"])
        frame[13:] = b"\r"
    return bytes(frame)


if __name__ == "__main__":
    for each in DECODERS:
        print(f"{each:<16}{count_readings(each, 1_000_000):>7} of 1000000 random strings read, all as a display shows")
