"""What a sequence asks of a person's hands: lead moves and dial turns, counted as they will be asked for."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequencer.values.bench import Bench
from sequencer.values.step import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """How often leads are moved, a unit's zero included, and how often a dial is turned."""

    leads: int
    dials: int


def handhelds_of(bench: Bench) -> frozenset[str]:
    """Names of the references that have a dial."""
    return frozenset(reference.name for reference in bench.references if reference.driver != "scpi")


def leads_of(setup: Setup) -> tuple[object, ...]:
    """What has to stay the same for the leads to stay where they are; a jack is part of it."""
    jacks = tuple((dial.unit, dial.jack) for dial in setup.dials)
    by_itself = setup.artifact, setup.through, setup.derives
    return setup.wiring, setup.source, setup.reference, setup.polarity, jacks, by_itself


def count_moves(setups: Iterable[Setup], handhelds: frozenset[str]) -> Moves:
    """Moves from bare terminals to the last setup.

    Args:
        setups: In the order performed.
        handhelds: Names of references that have a dial.

    Returns:
        The count.
    """
    moves = turns = 0
    leads: object = None
    zeroed: set[str] = set()
    measured: set[str] = set()
    stands: dict[int | str, tuple[str, ...]] = {}
    for setup in setups:
        if setup.artifact not in ("", setup.reference, *measured):
            # Shorted first, unless four leads make that needless; then on the artifact.
            measured.add(setup.artifact)
            moves += 1 if setup.four_wire else 2
            leads = None
        new_zeros = {zero.key for zero in setup.zeros} - zeroed
        zeroed = {zero.key for zero in setup.zeros}
        moves += len(new_zeros) + (bool(new_zeros) or leads_of(setup) != leads)
        leads = leads_of(setup)
        wanted: dict[int | str, tuple[str, ...]] = {
            dial.unit: (dial.dial, dial.jack, dial.select) for dial in setup.dials
        }
        reader = setup.voltmeter or setup.reference
        if reader in handhelds:
            wanted[reader] = (setup.measure, setup.voltmeter)
        turns += sum(stands.get(thing) != place for thing, place in wanted.items())
        stands |= wanted
    return Moves(leads=moves, dials=turns)
