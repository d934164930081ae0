"""Every mishap, for every role: a complete record, or a safe stop with a clear line; and the output off, or marked."""

import re
from pathlib import Path

import pytest

from sequencer.steps.policy import find_policy
from sequencer.values.event import LoopOpened, SegmentEnded
from tests.end_to_end.fault_table import ROLES, Cell, Lasts, cells, run, table

LASTING: tuple[Lasts, ...] = ("once", "for good")

EXPECTED = (Path(__file__).parent / "golden" / "fault_table.txt").read_text(encoding="utf-8")
"""As `python -m tests.end_to_end.fault_table` prints it: `once / for good` in each cell."""


def _expected(part: str, roles: tuple[str, ...]) -> dict[tuple[str, str, str], str]:
    found: dict[tuple[str, str, str], str] = {}
    for line in part.strip().splitlines()[1:]:
        fault, *rest = re.split(r"\s{2,}", line.strip(), maxsplit=1)
        words = re.findall(r"(\S[^/]*?) / (OUTPUT MAY BE ON|\d+ left out|\w+)", rest[0])
        for role, pair in zip(roles, words, strict=True):
            found |= {(fault, role, lasts): word.strip() for lasts, word in zip(LASTING, pair, strict=True)}
    return found


OF_INSTRUMENTS, OF_UNITS = EXPECTED.strip().split("\n\n")
WORDS = _expected(OF_INSTRUMENTS, ROLES) | _expected(OF_UNITS, ("unit",))


def _name(cell: Cell) -> str:
    return f"{cell.role}, {cell.fault}, {cell.lasts}"


def test_the_table_here_is_the_table_that_is_printed() -> None:
    printed = table({cell: WORDS[cell.fault, cell.role, cell.lasts] for cell in cells()})
    assert printed == EXPECTED.strip()
    assert len({fault for fault, role, _ in WORDS if role in ROLES}) >= 14


@pytest.mark.parametrize("cell", cells(), ids=_name)
def test_a_cell_of_the_table(cell: Cell, tmp_path: Path) -> None:
    ended = run(cell, tmp_path)
    assert ended.word == WORDS[cell.fault, cell.role, cell.lasts]
    last = ended.events[-1]
    assert isinstance(last, SegmentEnded)
    if ended.error is None:
        assert ended.read + ended.explained == ended.planned
        assert last.outcome == "finished"
    else:
        assert ended.error.exit_code == 4
        assert "\n" not in ended.error.message
        assert last.outcome == "bench"
        assert last.text
    if ended.word == "OUTPUT MAY BE ON":
        assert str(ended.error).startswith("OUTPUT MAY BE ON: ")
        assert not last.outputs_off
    else:
        assert ended.still_on == ()
        assert last.outputs_off
    if ended.word != "refused":
        assert ended.mishaps or any(isinstance(event, LoopOpened) for event in ended.events)
    assert all(find_policy(mishap.kind, mishap.role) for mishap in ended.mishaps)


def test_the_same_mishaps_give_the_same_record(tmp_path: Path) -> None:
    cell = Cell(fault="no answer", role="dc source", lasts="for good")
    first, second = (run(cell, _made(tmp_path / name)).events for name in ("first", "second"))
    assert first == second  # virtual times included, although every time-out took another time on the wall


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder
