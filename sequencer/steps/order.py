"""The order of setups: fewest lead moves and dial turns, every wiring from its lowest value up.

Setups with the same leads stay together, and so do those in which one unit goes from artifact to artifact. Of such
blocks one at a time is put where it saves most, beginning with the plan's own order, until no such move saves anything.
"""

from collections.abc import Callable, Sequence

from sequencer.steps.moves import count_moves, leads_of
from sequencer.values.step import Setup

LEAD_MOVE_S = 60.0
DIAL_TURN_S = 10.0
"""What a person takes for either; common practice, no source."""

MOST_SEARCHED = 40
"""More blocks than this stay in the plan's order: trying them all would take longer than it saves."""


def best_order(setups: Sequence[Setup], lowest: Sequence[float], handhelds: frozenset[str]) -> tuple[int, ...]:
    """The order to perform setups in.

    Args:
        setups: In the plan's order.
        lowest: The smallest magnitude of each, in SI units.
        handhelds: Names of references that have a dial.

    Returns:
        Indices of the setups, every one once.
    """
    grouped: dict[tuple[object, ...], list[int]] = {}
    for index, setup in enumerate(setups):
        grouped.setdefault(_stays_together(setup), []).append(index)
    blocks = [_rising(members, setups, lowest) for members in grouped.values()]

    def cost(order: list[tuple[int, ...]]) -> float:
        moves = count_moves((setups[index] for block in order for index in block), handhelds)
        return LEAD_MOVE_S * moves.leads + DIAL_TURN_S * moves.dials

    if len(blocks) <= MOST_SEARCHED:
        blocks = _improved(blocks, cost)
    return tuple(index for block in blocks for index in block)


def _stays_together(setup: Setup) -> tuple[object, ...]:
    if setup.artifact:
        return (setup.measure, setup.dials)
    return leads_of(setup)


def _rising(members: list[int], setups: Sequence[Setup], lowest: Sequence[float]) -> tuple[int, ...]:
    """One block by value; setups that share a zero are not taken apart."""
    by_zero: dict[tuple[str, ...], list[int]] = {}
    for index in members:
        zeros = tuple(zero.key for zero in setups[index].zeros)
        by_zero.setdefault(zeros, []).append(index)
    groups = [sorted(group, key=lambda index: lowest[index]) for group in by_zero.values()]
    return tuple(index for group in sorted(groups, key=lambda group: lowest[group[0]]) for index in group)


def _improved(blocks: list[tuple[int, ...]], cost: Callable[[list[tuple[int, ...]]], float]) -> list[tuple[int, ...]]:
    best, least = blocks, cost(blocks)
    is_better = True
    while is_better:
        is_better = False
        # The last first and not far: what the plan puts first stays there where nothing is won.
        for source in reversed(range(len(best))):
            for place in sorted(range(len(best)), key=lambda place: (abs(place - source), place)):
                tried = [*best[:source], *best[source + 1 :]]
                tried.insert(place, best[source])
                if (found := cost(tried)) < least:
                    best, least, is_better = tried, found, True
    return best
