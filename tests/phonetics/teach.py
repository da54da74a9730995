"""Makes bench_voice/phonetics/letters.txt from the pronouncing dictionary, or tells how good it is.

    python -m tests.phonetics.teach make       writes the table (a minute)
    python -m tests.phonetics.teach choose     figures of the words that settings are chosen on
    python -m tests.phonetics.teach report     figures of the words that no choice has seen

Of 105,829, 5,900 and 5,900 words. Chosen on the second part: words of a context and gain of 2 each (9.5 % of phones
wrong, 16,650 lines); 3 each 10.3 % (9,110 lines), 5 each 11.5 % (4,869 lines), 2 and a gain of 1 9.6 % (20,172 lines).

Each letter of a word is aligned with none, one or two phones by expectation maximisation (hard, by the best path).
Then, from a letter alone to four letters on either side, a context gets its own line where it is seen often enough and
most of its words say something else than the next shorter context does. The method is the decision tree of
Daelemans and van den Bosch (1997), "Language-independent data-oriented grapheme-to-phoneme conversion", pruned.
"""

from __future__ import annotations

import argparse
import math
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from zlib import crc32

from bench_voice.phonetics import dictionary, edits, graphemes, propose
from bench_voice.phonetics.graphemes import WINDOWS, by_letters, context

Pair = tuple[str, tuple[tuple[str, ...], ...]]
PARTS = {"report": (0,), "choose": (1,), "make": tuple(range(2, 20))}
MOST_PHONES = 2  # of one letter: x is K S
LEAST_SEEN, LEAST_GAIN = 2, 2  # words of a context; how many more of them its line gets right
PASSES = 6
# First letters that English words leave silent (common practice, no source): "knurled", "wrench", "gnaw", "pneumatic".
# The dictionary's names say some of them ("Knutson"), and a bench has no names of people.
SILENT = ("#[k]n", "#[w]r", "#[g]n", "#[p]n", "#[p]s")


def part_of(word: str) -> int:
    """Of twenty. A word and its endings may lie in different ones; that is told beside the figures."""
    return crc32(word.encode()) % 20


def entries(lines: Sequence[str], part: str) -> Iterator[Pair]:
    """Words of plain letters and all ways to say each."""
    found: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for line in lines:
        name, _, said = line.partition(" ")
        word = re.sub(r"\(\d+\)$", "", name)
        if re.fullmatch("[a-z]+", word) and part_of(word) in PARTS[part]:
            found[word].append(tuple(said.split()))
    yield from ((word, tuple(ways)) for word, ways in found.items())


def align(word: str, phones: tuple[str, ...], cost: dict[tuple[str, str], float]) -> list[str] | None:
    """What each letter stands for ("", "K", "K S") on the best path; None where there are too many phones."""
    best: dict[int, tuple[float, list[str]]] = {0: (0.0, [])}
    for at, letter in enumerate(word):
        new: dict[int, tuple[float, list[str]]] = {}
        left = (len(word) - at - 1) * MOST_PHONES
        for place, (total, path) in best.items():
            for count in range(min(MOST_PHONES, len(phones) - place) + 1):
                end = place + count
                if len(phones) - end > left:
                    continue
                said = " ".join(phones[place:end])
                value = total + cost.get((letter, said), 9.0 + 2 * count)
                if end not in new or value < new[end][0]:
                    new[end] = value, [*path, said]
        best = new
    return best[len(phones)][1] if len(phones) in best else None


def aligned(pairs: list[tuple[str, tuple[str, ...]]]) -> list[tuple[str, list[str]]]:
    # At first what stands at about the same place in its word.
    seen: Counter[tuple[str, str]] = Counter()
    for word, phones in pairs:
        for at, letter in enumerate(word):
            place = at * len(phones) // len(word)
            for near in range(max(0, place - 1), min(len(phones), place + 2)):
                seen[letter, phones[near]] += 1
    found: list[tuple[str, list[str]]] = []
    for _ in range(PASSES):
        totals: Counter[str] = Counter()
        for (letter, _said), count in seen.items():
            totals[letter] += count
        cost = {key: -math.log(count / totals[key[0]]) for key, count in seen.items()}
        if not any(not said for _, said in seen):
            cost.update({(letter, ""): 3.0 for letter in totals})
        found = [(word, path) for word, phones in pairs if (path := align(word, phones, cost)) is not None]
        seen = Counter((letter, said) for word, path in found for letter, said in zip(word, path, strict=True))
    return found


def table(found: list[tuple[str, list[str]]]) -> dict[str, str]:
    rules: dict[str, str] = {}
    said_now = [[""] * len(word) for word, _ in found]  # what the table says so far
    for window in WINDOWS:
        groups: dict[str, Counter[str]] = defaultdict(Counter)
        right: Counter[str] = Counter()
        for (word, path), now in zip(found, said_now, strict=True):
            for at, said in enumerate(path):
                key = context(word, at, window)
                groups[key][said] += 1
                right[key] += now[at] == said
        new = {}
        for key, counts in groups.items():
            said, count = min(counts.items(), key=lambda one: (-one[1], one[0]))
            is_first = window == (0, 0)
            if is_first or (counts.total() >= LEAST_SEEN and count - right[key] >= LEAST_GAIN):
                new[key] = said
        rules |= new
        for (word, _), now in zip(found, said_now, strict=True):
            for at in range(len(word)):
                key = context(word, at, window)
                if key in new:
                    now[at] = new[key]
    return rules


def with_silent(rules: dict[str, str]) -> dict[str, str]:
    """Each silent letter's own line, and none of a longer context."""
    others = {key: said for key, said in rules.items() if not any(one in key for one in SILENT)}
    return others | dict.fromkeys(SILENT, "")


def error_rate(pairs: list[Pair], said: Callable[[str], str | None]) -> tuple[float, float]:
    """Phone errors by phones, and words with any, against the nearest of each word's ways."""
    wrong = phones = bad = 0
    for word, ways in pairs:
        each = [(edits((said(word) or "").split(), way), len(way)) for way in ways]
        errors, length = min(each)
        wrong, phones, bad = wrong + errors, phones + length, bad + (errors > 0)
    return wrong / phones, bad / len(pairs)


def left_out(part: str) -> Callable[[str], str | None]:
    """The dictionary without the words of a part."""
    return lambda word: None if part_of(word) in PARTS[part] else dictionary().lookup(word)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=PARTS)
    what = parser.parse_args().what
    pairs = list(entries(dictionary().lines(), what))
    if what == "make":
        rules = with_silent(table(aligned([(word, ways[0]) for word, ways in pairs])))
        path = Path(graphemes.__file__).with_name("letters.txt")
        path.write_text("".join(f"{key} {said}\n" for key, said in sorted(rules.items())), encoding="utf-8")
        print(f"{len(rules)} lines")
        return
    for name, said in (("letters alone", by_letters), ("whole", lambda word: propose(word, left_out(what)))):
        phones, words = error_rate(pairs, said)
        print(f"{name}: {phones:.1%} of phones wrong, {words:.1%} of {len(pairs)} words")


if __name__ == "__main__":
    main()
