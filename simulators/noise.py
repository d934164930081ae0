"""Noise without a generator: each deviate is a hash of who asks, under which cue, and the how-manieth time.

No state survives a cue, so that a step that is resumed repeats its noise exactly.
"""

import math
from hashlib import blake2b

_FULL = float(2**64)


def normal_deviate(seed: int, name: str, cue: str, count: int) -> float:
    """A standard normal deviate that depends on nothing but the arguments.

    Args:
        seed: Seed of the bench.
        name: The instrument or meter that asks.
        cue: The cue under which it asks.
        count: How many were asked since the cue.

    Returns:
        A deviate of mean 0 and standard deviation 1.

    Source: Box and Muller's transformation of two uniform numbers, here the halves of a BLAKE2b digest (RFC 7693).
    """
    digest = blake2b(f"{seed}\0{name}\0{cue}\0{count}".encode(), digest_size=16).digest()
    first = (int.from_bytes(digest[:8], "big") + 0.5) / _FULL
    second = int.from_bytes(digest[8:], "big") / _FULL
    return math.sqrt(-2 * math.log(first)) * math.cos(2 * math.pi * second)
