"""The report: ours beside one ear alone and open dictation, by kind, voices and noise, with 95 % intervals."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any

from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.ports import Heard
from bench_voice.session.modes import called
from bench_voice.speech.understand import understand
from tests.corpus import texts
from tests.corpus.listen import as_looked, heard_of, searched
from tests.corpus.outcomes import Decide, by_agreement, by_both, interval, outcome
from tests.corpus.texts import OUTSIDE

Line = dict[str, Any]
BAD = ("WRONG", "PASSED", "acted")
CALL = "bench"


def _only(*ears: str) -> Decide:
    """These ears installed: what the product then does."""

    def decide(expected: Expected, heard: Sequence[Heard]) -> Decision:
        there = [one for one in heard if one.ear in ears]
        return agree(expected, as_looked(expected, there), texts.LANGUAGE)

    return decide


def _taken(words: Callable[[Sequence[Heard]], str]) -> Decide:
    """No judgement at all: whatever the words mean is recorded."""

    def decide(expected: Expected, heard: Sequence[Heard]) -> Decision:
        intent: Intent = understand(words(heard), expected, texts.LANGUAGE)
        if intent.kind is Kind.UNKNOWN:
            return Decision(Act.NOTHING)
        return Decision(Act.ASK if intent.kind is Kind.AMBIGUOUS else Act.RECORD, intent)

    return decide


WAYS: dict[str, Decide] = {
    "all ears, this product": by_both,
    "all ears, without the search": by_agreement,
    "the search alone": searched,
    "without moonshine, this product": _only("pocketsphinx", "whisper", "whisper-tiny"),
    "pocketsphinx and whisper, this product": _only("pocketsphinx", "whisper"),
    "pocketsphinx alone, this product": _only("pocketsphinx"),
    "whisper alone, this product": _only("whisper"),
    "pocketsphinx, taken as heard": _taken(lambda heard: heard[0].words),
    "open dictation (whisper), same parser": _taken(lambda heard: heard[1].free_words or ""),
}


def _noise(line: Line) -> str:
    if line["noise"] == "clean":
        return "clean"
    noise = {"compressor": "pink/compressor", "pink": "pink/compressor"}.get(line["noise"], line["noise"])
    return f"{line['snr_db']:.0f} dB {noise}" if line["snr_db"] == 10 else f"{line['snr_db']:.0f} dB"


def _family(line: Line) -> str:
    return line["voice"]["family"] if line["voice"] else "people"


def _kind(line: Line) -> str:
    kind = line["said"]["kind"]
    return "near" if kind == "near" else "outside" if kind in OUTSIDE else str(kind)


def show(lines: Sequence[Line], is_worst: bool = False, without: frozenset[str] = frozenset()) -> None:
    """`without`: the search alone, without these vetoes."""
    decide: Decide = partial(searched, without=without) if without else by_both
    ours = [(line, *outcome(line, decide)) for line in lines]
    print(f"{len(lines)} clips\n")
    _main(ours)
    outside = [line for line in lines if _kind(line) in ("near", "outside")]
    addressed = sum(_is_addressed(line) for line in outside)
    print(f'\nwith the call word "{CALL}": taken as addressed {interval(addressed, len(outside))} outside clips')
    print()
    whole = [line for line in lines if line.get("is_whole", True)]
    print(f"Ways of deciding, on the {len(whole)} clips that got every look:")
    for way, decide in WAYS.items():
        _way(way, [(line, outcome(line, decide)[0]) for line in whole])
    if is_worst:
        print()
        for line, result, why in ours:
            if result in BAD:
                words = [(h["words"], h["free_words"]) for piece in line["pieces"] for h in piece["heard"]]
                text = f"«{line['said']['text']}» {words} ({why})"
                print(f"{result} {line['said']['kind']} {_family(line)} {_noise(line)}: {text}")


def _main(ours: Iterable[tuple[Line, str, str]]) -> None:
    cells: dict[tuple[str, str, str], list[str]] = {}
    for line, result, _ in ours:
        family = (
            "robotic"
            if _family(line) == "robotic"
            else "people"
            if _family(line) == "people"
            else "neural, concatenative"
        )
        for noise in (_noise(line), "all"):
            for kind in (_kind(line), *(("said to us",) if _kind(line) not in ("near", "outside") else ())):
                cells.setdefault((family, kind, noise), []).append(result)
    print(f"{'voices':22} {'kind':11} {'noise':22} {'no question':28} {'one question at most':28} wrong")
    for (family, kind, noise), results in sorted(cells.items()):
        n = len(results)
        if kind in ("near", "outside"):
            acted = sum(r in BAD for r in results)
            silent = sum(r == "nothing" for r in results)
            print(f"{family:22} {kind:11} {noise:22} silent {interval(silent, n):21} acted on {interval(acted, n)}")
            continue
        right = sum(r == "right" for r in results)
        offered = right + sum(r == "offered" for r in results)
        wrong = sum(r == "WRONG" for r in results)
        print(f"{family:22} {kind:11} {noise:22} {interval(right, n):28} {interval(offered, n):28} {wrong}")


def _is_addressed(line: Line) -> bool:
    """Whether the free ears wrote the call word, none of which is told of it. The first ear, which can hear nothing
    else, would have to have heard it as well."""
    found = [[one for one in heard_of(piece) if one.free_words is not None] for piece in line["pieces"]]
    return any(called(heard, CALL).is_for_us for heard in found)


def _way(way: str, found: Sequence[tuple[Line, str]]) -> None:
    said = [(line, r) for line, r in found if _kind(line) not in ("near", "outside") and _family(line) != "robotic"]
    outside = [(line, r) for line, r in found if _kind(line) in ("near", "outside")]
    readings = [(line, r) for line, r in found if _kind(line) in ("reading", "digits") and r in ("right", "WRONG")]
    print(f"{way}:")
    for noise in ("clean", "20 dB", "10 dB pink/compressor", "10 dB babble"):
        here = [r for line, r in said if _noise(line) == noise]
        asked = sum(r in ("right", "offered") for r in here)
        right = interval(sum(r == "right" for r in here), len(here))
        print(f"  {noise}: no question {right}, one at most {interval(asked, len(here))}")
    print(f"  readings recorded wrong {interval(sum(r == 'WRONG' for _, r in readings), len(readings))}")
    print(f"  outside clips acted on {interval(sum(r in BAD for _, r in outside), len(outside))}")
    passed = sum(r == "PASSED" for _, r in outside)
    print(f"  hold phrases passed by anything else {interval(passed, len(outside))}")
