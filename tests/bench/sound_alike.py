"""How well names that sound alike are found: `python tests/bench/sound_alike.py`.

Prints how many of the pairs are found, list by list. Ends with 1 on a false alarm, on a miss among the first pairs,
or when fewer than 95 % of the Diagnostic Rhyme Test are found.
"""

from __future__ import annotations

import sys
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench_voice.phonetics import NEAR, apart, sounds
from tests.phonetics.sound_lists import ALPHABET, RHYMES, WORKSHOP
from tests.phonetics.test_likeness import ALIKE, APART


def is_found(one: str, other: str) -> bool:
    far = apart(one, other)
    return far is not None and far <= NEAR


def report(title: str, pairs: list[tuple[str, str]], *, least: float = 0, most: float = 1) -> bool:
    """Whether the share of pairs that are found lies between `least` and `most`."""
    known = [(one, other) for one, other in pairs if sounds(one) and sounds(other)]
    found = [pair for pair in known if is_found(*pair)]
    lost = len(pairs) - len(known)
    more = f", {lost} more have a word that the dictionary lacks" if lost else ""
    print(f"{title}: {len(found)} of {len(known)} found{more}")
    for one, other in found if most == 0 else [pair for pair in known if pair not in found]:
        print(f"  {'false alarm' if most == 0 else 'missed'}: {one} / {other} ({apart(one, other)})")
    return least <= len(found) / len(known) <= most


def main() -> int:
    good = [
        report("pairs as in workshop names", ALIKE, least=1),
        report("Diagnostic Rhyme Test (made to be confused)", RHYMES, least=0.95),
        report("sixteen pairs that people keep apart", APART, most=0),
        report("spelling alphabet (made to be kept apart), every pair", list(combinations(ALPHABET, 2)), most=0),
        report("workshop names, every pair", list(combinations(WORKSHOP, 2)), most=0),
    ]
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
