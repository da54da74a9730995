"""A text's phones held against a sound: forced alignment, how well each word fits, and which other number comes near.

Log-probabilities of phones by frame come from `audio.phone_net`; paths are those of connectionist temporal
classification (Graves et al. 2006): each phone for one frame or more, blanks anywhere between, and one blank at least
between two equal ones. The best path stands for all. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bench_voice.ports import Sounding
from bench_voice.words.phrases import NumberWords

Floats = NDArray[np.float32]
Labels = tuple[int, ...]
Span = tuple[int, int]
Instead = tuple[int, int, str]  # of the words from this one to before that one, another word; "" for none
OfSpan = Callable[[Sequence[Span], int], float]
Ways = Callable[[str], Sequence[Labels]]  # of saying a word, each its phones' numbers; none where that isn't known

_NEVER = np.float32(-1e9)
_MOST_WAYS = 3  # of one word
_FLOOR = -30.0  # what every figure is cut off at
_EIGHT = 8
_HOPELESS = -3.0  # a fit below which nobody asks for the lead


@dataclass(frozen=True)
class Exchange:
    """Instead of the labels from `start` to `end`, `labels`."""

    start: int
    end: int
    labels: Labels


class Aligned:
    """The best path of one row of labels: `total` is its log-probability."""

    def __init__(self, scores: Floats, labels: Labels) -> None:
        self._scores, self._labels = scores, labels
        self._states = np.zeros(2 * len(labels) + 1, np.int64)
        self._states[1::2] = labels
        skips = np.zeros(len(self._states), bool)
        skips[3::2] = self._states[3::2] != self._states[1:-2:2]
        each = scores[:, self._states]
        self._forward = _forward(each, skips)
        # The same backwards, without what the frame itself scores.
        turned = np.zeros_like(skips)
        turned[2:] = skips[::-1][: len(skips) - 2]
        self._behind = _forward(each[::-1, ::-1], turned)[::-1, ::-1] - each
        self.total = float(self._forward[-1, -2:].max())

    def path(self) -> NDArray[np.int64]:
        """The state of each frame: 2 k + 1 is the label k, even ones are blanks."""
        found: NDArray[np.int64] = np.argmax(self._forward + self._behind, axis=1)
        return found

    def costs(self, path: NDArray[np.int64]) -> Floats:
        """What each frame of a path costs against the likeliest label there; 0 is best."""
        return np.asarray(self._scores[np.arange(len(path)), self._states[path]] - self._scores.max(-1), np.float32)

    def exchanged(self, exchanges: Sequence[Exchange]) -> Floats:
        """The best path's log-probability with each of the exchanges made."""
        found = np.full(len(exchanges), _NEVER, np.float32)
        fuller = [at for at, one in enumerate(exchanges) if one.labels]
        if fuller:
            found[fuller] = self._filled([exchanges[at] for at in fuller])
        for at, one in enumerate(exchanges):
            if not one.labels:
                found[at] = self._left_out(one.start, one.end)
        return found

    def _before(self, at: int) -> tuple[Floats, Floats]:
        """By frame: being in the blank before a label, and in the label before that blank."""
        silent = self._forward[:, 2 * at]
        return silent, self._forward[:, 2 * at - 1] if at else np.full_like(silent, _NEVER)

    def _after(self, at: int) -> tuple[Floats, Floats]:
        """By frame: what follows from the blank before the label `at`, and from going on to that label at the next."""
        silent = self._behind[:, 2 * at]
        spoken = np.full_like(silent, _NEVER)
        if at < len(self._labels):
            state = 2 * at + 1
            spoken[:-1] = self._scores[1:, self._labels[at]] + self._behind[1:, state]
        else:
            spoken[-1] = 0.0
        return silent, spoken

    def _left_out(self, start: int, end: int) -> float:
        silent, spoken = self._before(start)
        silent_on, spoken_on = self._after(end)
        found = [float((silent + silent_on).max()), float((silent + spoken_on).max())]
        is_twice = start and end < len(self._labels) and self._labels[start - 1] == self._labels[end]
        if start and not is_twice:
            found.append(float((spoken + spoken_on).max()))
        if not start and end < len(self._labels):
            found.append(float(self._scores[0, self._labels[end]] + self._behind[0, 2 * end + 1]))
        return max(found)

    def _filled(self, exchanges: Sequence[Exchange]) -> Floats:
        """All exchanges side by side: of each only its own labels and the blanks behind them are gone through."""
        rows, longest = len(exchanges), max(len(one.labels) for one in exchanges)
        states = np.zeros((rows, 2 * longest), np.int64)
        skips = np.full((rows, 2 * longest), _NEVER, np.float32)
        for row, one in enumerate(exchanges):
            states[row, 0 : 2 * len(one.labels) : 2] = one.labels
            for at, (a, b) in enumerate(pairwise(one.labels), 1):
                if a != b:
                    skips[row, 2 * at] = 0.0
        befores = [self._before(one.start) for one in exchanges]
        silent = np.stack([before[0] for before in befores], 1)
        spoken = np.stack([before[1] for before in befores], 1)
        afters = [self._after(one.end) for one in exchanges]
        silent_on = np.stack([after[0] for after in afters], 1)
        spoken_on = np.stack([after[1] for after in afters], 1)
        for row, one in enumerate(exchanges):
            if one.start and self._labels[one.start - 1] == one.labels[0]:
                spoken[:, row] = _NEVER
            if one.end < len(self._labels) and self._labels[one.end] == one.labels[-1]:
                spoken_on[:, row] = _NEVER
        each = self._scores[:, states.ravel()].reshape(len(self._scores), rows, -1)
        last = np.array([2 * len(one.labels) - 1 for one in exchanges])
        index = np.arange(rows)
        now = np.full((rows, 2 * longest + 2), _NEVER, np.float32)
        now[:, 2] = np.where([one.start == 0 for one in exchanges], each[0, :, 0], _NEVER)
        best = np.maximum(now[index, 1 + last] + spoken_on[0], _NEVER)
        entry = np.maximum(silent, spoken)
        for frame in range(1, len(each)):
            new = np.maximum(np.maximum(now[:, 2:], now[:, 1:-1]), now[:, :-2] + skips)
            new[:, 0] = np.maximum(new[:, 0], entry[frame - 1])
            now[:, 2:] = new + each[frame]
            ended = np.maximum(now[index, 2 + last] + silent_on[frame], now[index, 1 + last] + spoken_on[frame])
            best = np.maximum(best, ended)
        return np.asarray(best, np.float32)


def _forward(each: Floats, skips: NDArray[np.bool_]) -> Floats:
    """By frame and state: the best path so far. `each`: the states' scores, `skips`: who may leave out a blank."""
    found = np.full((len(each), each.shape[1] + 2), _NEVER, np.float32)
    found[0, 2:4] = each[0, :2]
    cost = np.where(skips, np.float32(0.0), _NEVER)
    for frame in range(1, len(each)):
        last = found[frame - 1]
        best = np.maximum(np.maximum(last[2:], last[1:-1]), last[:-2] + cost)
        found[frame, 2:] = best + each[frame]
    return found[:, 2:]


class Soundings:
    """How texts fit a sound. `ways`: how words are said; `numbers`: which of them are number words."""

    def __init__(self, ways: Ways, numbers: NumberWords) -> None:
        self._ways = lru_cache(maxsize=512)(lambda word: tuple(ways(word))[:_MOST_WAYS])
        self._numbers = frozenset(numbers.plain)
        self._means = numbers.meaning

    def of(
        self, scores: Floats, text: str, eights: OfSpan | None = None, names: Collection[str] = ()
    ) -> Sounding | None:
        """None where nobody knows how one of its words is said, or the sound is too short for them. `scores`: natural
        logarithms of the phones' chances, by frame, the blank's first. `eights`: of words' first and last
        frames and the number of one of them, how much likelier that is an "eight" than a "six" (`audio.eights`).
        `names`: of readings, in lower case; nobody says one without its last word."""
        words = text.split()
        ways = [self._ways(word) for word in words]
        if not words or not all(ways):
            return None
        said = [way[0] for way in ways]
        aligned = Aligned(scores, sum(said, ()))
        better = self._better(aligned, ways)
        if better != said:
            said = better
            aligned = Aligned(scores, sum(said, ()))
        if aligned.total < float(_NEVER) / 2:
            return None
        path = aligned.path()
        fit, worst = _fit(aligned, said, path)
        lead, rival = self._lead(aligned, words, said, fit < _HOPELESS, _named(words, names))
        return Sounding(text, fit, worst, lead, rival, self._least_eight(words, path, said, eights))

    def _least_eight(
        self, words: Sequence[str], path: NDArray[np.int64], said: Sequence[Labels], eights: OfSpan | None
    ) -> float | None:
        asked = [at for at, word in enumerate(words) if self._means(word) == _EIGHT]
        if eights is None or not asked:
            return None
        spans = spans_of(path, said)
        return min(eights(spans, at) for at in asked)

    def _better(self, aligned: Aligned, ways: Sequence[Sequence[Labels]]) -> list[Labels]:
        """Each word as it fits best, the others said in their first way."""
        starts = _starts([way[0] for way in ways])
        asked = [(at, way) for at, word in enumerate(ways) for way in word[1:]]
        found = [way[0] for way in ways]
        if asked:
            exchanges = [Exchange(starts[at], starts[at + 1], way) for at, way in asked]
            best = [aligned.total] * len(ways)
            for (at, way), total in zip(asked, aligned.exchanged(exchanges), strict=True):
                if total > best[at]:
                    best[at], found[at] = float(total), way
        return found

    @cached_property
    def _every(self) -> dict[Labels, str]:
        """Every way of saying a number word, and the word."""
        return {way: word for word in sorted(self._numbers) for way in self._ways(word)}

    def _lead(
        self, aligned: Aligned, words: Sequence[str], said: Sequence[Labels], is_hopeless: bool, named: int
    ) -> tuple[float | None, str]:
        """Over the text with one number word exchanged, left out or added beside one; or with a number word for a word
        that stands beside one ("at point nine": "eight point nine"), but for the first `named`. And the likeliest of
        these texts."""
        starts = _starts(said)
        numeric = [word in self._numbers for word in words]
        if not any(numeric):
            return None, ""
        if is_hopeless:
            return _FLOOR, ""
        exchanges, texts = self._exchanges(words, starts, numeric, named)
        totals = aligned.exchanged(exchanges)
        best = int(totals.argmax())
        at, end, word = texts[best]
        rival = [*words[:at], *([word] if word else []), *words[end:]]
        return max(_FLOOR, aligned.total - float(totals[best])), " ".join(rival)

    def _exchanges(
        self, words: Sequence[str], starts: Sequence[int], numeric: Sequence[bool], named: int
    ) -> tuple[list[Exchange], list[Instead]]:
        """What `_lead` compares with: exchanges of labels, and beside each what it does to the words."""
        exchanges: list[Exchange] = []
        texts: list[Instead] = []

        def instead(at: int, end: int, meant: int | str | None = None) -> None:
            for way, word in self._every.items():
                if meant is None or self._means(word) != meant:
                    exchanges.append(Exchange(starts[at], starts[end], way))
                    texts.append((at, end, word))

        for at, word in enumerate(words):
            if not numeric[at]:
                if at >= named and any(numeric[max(0, at - 1) : at + 2]):
                    instead(at, at + 1)
                continue
            instead(at, at + 1, self._means(word))
            if len(words) > 1:
                exchanges.append(Exchange(starts[at], starts[at + 1], ()))
                texts.append((at, at + 1, ""))
            if not (at and numeric[at - 1]):
                instead(at, at)
            instead(at + 1, at + 1)
        return exchanges, texts


def _named(words: Sequence[str], names: Collection[str]) -> int:
    """How many words at the beginning are a name that is whole, and not one with a word more: "nozzle flow two" is not
    "nozzle oh two", unless "nozzle" is a name as well."""
    for count in range(len(words), 0, -1):
        if " ".join(words[:count]) in names:
            return count if " ".join(words[: count - 1]) not in names else 0
    return 0


def _starts(said: Sequence[Labels]) -> list[int]:
    return [0, *np.cumsum([len(way) for way in said]).tolist()]


def spans_of(path: NDArray[np.int64], said: Sequence[Labels]) -> list[Span]:
    """The first and the last frame of each word."""
    spans: list[Span] = []
    for begin, end in pairwise(_starts(said)):
        inside = np.flatnonzero((path > 2 * begin) & (path < 2 * end))
        before = spans[-1][1] if spans else 0
        # Where two paths are as good, the frames of one word may all be taken for those of the words beside it.
        spans.append((int(inside[0]), int(inside[-1])) if len(inside) else (before, before))
    return spans


def _fit(aligned: Aligned, said: Sequence[Labels], path: NDArray[np.int64]) -> tuple[float, float]:
    """What a phone costs against the likeliest of all phones, on average and in the worst word; what stands between
    two words counts as one phone."""
    costs = aligned.costs(path)
    starts = _starts(said)
    worst = 0.0
    for at, way in enumerate(said):
        is_inside = (path > 2 * starts[at]) & (path < 2 * starts[at + 1])
        worst = min(worst, float(costs[is_inside].sum()) / len(way))
    for start in starts:
        worst = min(worst, float(costs[path == 2 * start].sum()))
    return max(_FLOOR, float(costs.sum()) / max(1, starts[-1])), max(_FLOOR, worst)


__all__ = ["Aligned", "Exchange", "Soundings", "Ways"]
