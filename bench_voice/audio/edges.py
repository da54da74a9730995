"""Where the person's own words begin and end in an utterance that a talking room made longer: by level. Pure.

The voice detector takes a radio and the next bench for speech, so what they say before and after the person's words
comes along, and every ear makes words of it. The person stands nearest to the microphone: what is much softer at both
ends, and no louder than the room, is left out. Inside of a sentence nothing is. Figures: docs/hearing.md.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

# Own choices, generous: a soft last word must not be lost. Windows are the detector's, of 32 ms.
_OVER = 5  # the level is taken over a syllable, the window in its middle
_BEFORE, _AFTER = 6, 8  # kept on either side
# As near to the loudest syllable as that it is the person, who speaks more softly than at the sound check.
_NEVER_DB = 10.0
# Where nobody has told the room's level.
_BELOW_LOUDEST_DB = 16.0
_OVER_QUIETEST_DB = 10.0  # of a room that talks, its syllables over its pauses
_LEAST_TALK = 15  # half a second: a word is shorter
_NOTHING = 1e-12


def own_words(powers: Sequence[float], floor_db: float | None) -> tuple[int, int]:
    """The first window over the room's level and the one after the last; all of them where the level doesn't tell.

    `powers`: mean square of each window, full scale is 1. `floor_db`: the room's loud level, in dB below full scale,
    where it is known; else it is guessed from the utterance, and only long edges count."""
    count = len(powers)
    if count < _OVER:
        return 0, count
    mean = np.convolve(np.pad(np.asarray(powers), _OVER // 2, mode="edge"), np.full(_OVER, 1 / _OVER), "valid")
    levels = 10 * np.log10(mean + _NOTHING)
    loudest = float(levels.max())
    if floor_db is None:
        quietest = float(np.mean(np.sort(levels)[: max(1, count // 8)]))
        limit = min(loudest - _BELOW_LOUDEST_DB, quietest + _OVER_QUIETEST_DB)
    else:
        limit = min(loudest - _NEVER_DB, floor_db)
    over = np.nonzero(levels > limit)[0]
    first, after = int(over[0]), int(over[-1]) + 1  # the loudest is over it
    if floor_db is None:
        first = first if first >= _LEAST_TALK else 0
        after = after if count - after >= _LEAST_TALK else count
    return first, after


def padded(first: int, after: int, count: int) -> tuple[int, int]:
    """With a little of what is around it."""
    return max(0, first - _BEFORE), min(count, after + _AFTER)
