"""The likeliest meanings of a sound, out of all that a step can hear: exact n-best search over best paths. Pure, numpy.

Connectionist temporal classification (A. Graves et al., ICML 2006): a network gives each frame a chance of every phone
and of a blank; a path stays on a phone, passes blanks, and goes on. Its score is the sum of logarithms. Backwards over
time first: for each arc and frame the best that can still follow. With that exact bound, best-first search from the
front opens one word at a time and meets sentences in the order of their scores.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bench_voice.hearing.graph import ANYTHING, BLANK, NEVER, START, Graph

Floats = NDArray[np.float32]

_ANY_COST = 0.7  # of each frame that belongs to no word, below the likeliest phone's
_MOST_OPENED = 100  # words; far more than a clear sound takes
_STRETCH = 12  # frames of 20 ms
_FAR = 16.0  # below the best meaning, nothing is worth naming


@dataclass(frozen=True)
class Found:
    """`words`: the canonical text; `score`: natural logarithm of the best path's chance; `phones`: how many it has;
    `worst`: of any quarter of a second, what the path's frames have less than the likeliest phones' (0 is best): a word
    more or less shows there."""

    meaning: Hashable
    words: str
    score: float
    phones: int
    worst: float = 0.0


@dataclass(frozen=True)
class Result:
    """`found`: meanings, best first; `free`: the score of the likeliest phones, whatever they are."""

    found: tuple[Found, ...]
    free: float


@dataclass
class _Prefix:
    """Words from the start. `exits`: by the last phone (BLANK: behind a blank) the best score by frames consumed."""

    node: int
    outs: tuple[str, ...]
    exits: dict[int, Floats]
    labels: tuple[int, ...]


@dataclass(order=True)
class _Entry:
    minus_bound: float
    order: int
    prefix: _Prefix | None = field(compare=False)  # whose arcs are to be gone through; None: a whole sentence
    arcs: tuple[int, ...] = field(compare=False, default=())
    whole: tuple[str, ...] = field(compare=False, default=())
    labels: tuple[int, ...] = field(compare=False, default=())


def search(
    graph: Graph, scores: Floats, meaning: Callable[[str], Hashable | None], most: int = 3, most_asked: int = 12
) -> Result:
    """The best `most` meanings. `scores`: frames x (blank, then phones), natural logarithms. `meaning`: of a canonical
    text, None for none; asked at most `most_asked` times."""
    free = float(scores.max(1).sum()) if len(scores) else 0.0
    if not len(scores) or not graph.arcs:
        return Result((), free)
    heights = np.concatenate([scores, scores[:, 1:].max(1, keepdims=True) - np.float32(_ANY_COST)], 1)
    states = heights[:, graph.label]  # ANYTHING is -1: the last column
    ahead = _ahead(graph, states)
    return Result(tuple(_best(graph, heights, states, ahead, meaning, most, most_asked)), free)


def _ahead(graph: Graph, states: Floats) -> Floats:
    """By frame and arc: the best score from beginning the arc at that frame to the end of a sentence and the sound."""
    count = len(states)
    found = np.full((count, len(graph.arcs)), NEVER, np.float32)
    now = np.full(states.shape[1] + 2, NEVER, np.float32)
    now[graph.final_state] = states[-1, graph.final_state]
    found[-1] = now[graph.first] + graph.cost
    new = np.empty(states.shape[1], np.float32)
    other = np.empty_like(new)
    for frame in range(count - 2, -1, -1):
        np.add(now[1:-1], graph.cost_next, out=new)
        np.maximum(new, now[:-2], out=new)
        np.add(now[2:], graph.cost_skip, out=other)
        np.maximum(new, other, out=new)
        slots = np.maximum.reduceat(found[frame + 1][graph.member], graph.slot_start)
        new[graph.exit_state] = np.maximum(new[graph.exit_state], slots[graph.exit_slot])
        np.add(new, states[frame], out=now[:-2])
        found[frame] = now[graph.first] + graph.cost
    return found


def _best(
    graph: Graph,
    heights: Floats,
    states: Floats,
    ahead: Floats,
    meaning: Callable[[str], Hashable | None],
    most: int,
    most_asked: int,
) -> list[Found]:
    silence = np.concatenate([[0.0], np.cumsum(heights[:, BLANK])]).astype(np.float32)
    heap: list[_Entry] = []
    ticket = iter(range(1_000_000))
    _open(graph, ahead, _Prefix(START, (), {BLANK: silence}, ()), heap, ticket)
    found: dict[Hashable, Found] = {}
    asked: dict[tuple[str, ...], None] = {}
    opened = 0
    top = -heap[0].minus_bound if heap else 0.0
    while heap and len(found) < most and len(asked) < most_asked and opened < _MOST_OPENED:
        entry = heapq.heappop(heap)
        if -entry.minus_bound < top - _FAR - 10:
            break
        if entry.prefix is None:
            if entry.whole in asked:
                continue
            asked[entry.whole] = None
            text = " ".join(out for out in entry.whole if out)
            meant = meaning(text)
            if meant is not None and meant not in found:
                phones = sum(label != ANYTHING for label in entry.labels)
                worst = worst_stretch(heights, entry.labels)
                found[meant] = Found(meant, text, -entry.minus_bound, phones, worst)
                if len(found) == 1:
                    top = -entry.minus_bound
            continue
        opened += 1
        prefix = _extended(graph, states, ahead, entry.prefix, entry.arcs, float(top) - _FAR - 10)
        end = max(float(scores[-1]) for scores in prefix.exits.values())
        if prefix.node in graph.accepting and end > float(NEVER) / 2:
            heapq.heappush(heap, _Entry(-end, next(ticket), None, (), prefix.outs, prefix.labels))
        _open(graph, ahead, prefix, heap, ticket)
    return list(found.values())


def _open(graph: Graph, ahead: Floats, prefix: _Prefix, heap: list[_Entry], ticket: object) -> None:
    """Enters what may follow: arcs to one node that say the same, with the best score of any sentence through them."""
    behind = graph.follows[prefix.node]
    if not len(behind):
        return
    bounds = np.full(len(behind), NEVER, np.float32)
    for last, scores in prefix.exits.items():
        each = (scores[:-1, None] + ahead[:, behind]).max(0)
        if last != BLANK:
            each = np.where(graph.label[graph.first[behind]] == last, NEVER, each)
        bounds = np.maximum(bounds, each)
    groups: dict[tuple[int, str], tuple[float, list[int]]] = {}
    order = np.argsort(-bounds, kind="stable")  # the likeliest pronunciation first
    for at, bound in zip(behind[order].tolist(), bounds[order].tolist(), strict=True):
        if bound < float(NEVER) / 2:
            continue
        arc = graph.arcs[at]
        best, arcs = groups.get((arc.target, arc.out), (float(NEVER), []))
        arcs.append(at)
        groups[arc.target, arc.out] = (max(best, bound), arcs)
    for best, arcs in groups.values():
        heapq.heappush(heap, _Entry(-best, next(ticket), prefix, tuple(arcs)))  # type: ignore[call-overload]


def _extended(
    graph: Graph, states: Floats, ahead: Floats, prefix: _Prefix, arcs: tuple[int, ...], least: float
) -> _Prefix:
    """The prefix with one word more. Begins of the word that no sentence above `least` has are left out."""
    count = len(states)
    exits: dict[int, Floats] = {BLANK: np.full(count + 1, NEVER, np.float32)}
    for at in arcs:
        arc = graph.arcs[at]
        begin = np.full(count, NEVER, np.float32)
        for last, scores in prefix.exits.items():
            if last == BLANK or last != arc.labels[0]:
                np.maximum(begin, scores[:-1], out=begin)
        begin += arc.cost
        worth = np.flatnonzero(begin + ahead[:, at] - arc.cost >= least)
        if not len(worth):
            continue
        size = 2 * len(arc.labels)
        first = int(graph.first[at])
        own = states[:, first : first + size]
        skip = graph.cost_skip[first : first + size - 2]
        spoken = exits.setdefault(arc.labels[-1], np.full(count + 1, NEVER, np.float32))
        silent = exits[BLANK]
        now = np.full(size + 2, NEVER, np.float32)
        inner, one, two = now[2:], now[1:-1], now[:-2]
        extra = np.concatenate([[NEVER, NEVER], skip]).astype(np.float32)
        stop = int(worth[-1])
        for frame in range(int(worth[0]), count):
            new = np.maximum(np.maximum(inner, one), two + extra)
            if frame <= stop and begin[frame] > new[0]:
                new[0] = begin[frame]
            new += own[frame]
            inner[:] = new
            if new[-1] > silent[frame + 1]:
                silent[frame + 1] = new[-1]
            if new[-2] > spoken[frame + 1]:
                spoken[frame + 1] = new[-2]
    arc = graph.arcs[arcs[0]]
    outs = (*prefix.outs, arc.out) if arc.out else prefix.outs
    return _Prefix(arc.target, outs, exits, (*prefix.labels, *arc.labels))


def worst_stretch(heights: Floats, labels: tuple[int, ...]) -> float:
    """Of the best path through these phones, the quarter of a second that lies furthest below the likeliest phones."""
    count, size = len(heights), 2 * len(labels) + 1
    column = np.zeros(size, np.int64)
    column[1::2] = labels
    each = heights[:, column]
    skips = np.full(size, NEVER, np.float32)
    skips[3::2] = np.where(column[3::2] != column[1:-2:2], 0.0, NEVER)
    now = np.full(size + 2, NEVER, np.float32)
    now[2:4] = each[0, :2]
    came = np.zeros((count, size), np.int8)
    for frame in range(1, count):
        options = np.stack([now[2:], now[1:-1], now[:-2] + skips])
        came[frame] = options.argmax(0)
        now[2:] = options.max(0) + each[frame]
    at = size - 1 if now[-1] >= now[-2] else size - 2
    path = np.zeros(count, np.int64)
    for frame in range(count - 1, -1, -1):
        path[frame] = at
        at -= int(came[frame, at])
    below = each[np.arange(count), path] - heights[:, :-1].max(1)
    sums = np.concatenate([[0.0], np.cumsum(below)])
    width = min(count, _STRETCH)
    return float((sums[width:] - sums[:-width]).min())
