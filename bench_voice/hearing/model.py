"""Chances from figures: boosted trees, each sum turned into a chance. Pure; the trees are in trees.json.

`python -m tests.corpus fit` grows them on the develop and calibrate parts (J. H. Friedman, "Greedy function
approximation: a gradient boosting machine", Annals of Statistics 29, 2001), held to each feature's direction: more of
what speaks for a meaning never makes it less likely.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

# A leaf is its height; a fork is (feature, threshold, whether a missing figure goes left, left, right).
Tree = float | tuple[str, float, bool, "Tree", "Tree"]


@dataclass(frozen=True)
class Trees:
    base: float
    trees: Sequence[Tree]

    def chance(self, figures: Mapping[str, float]) -> float:
        height = self.base + sum(_height(tree, figures) for tree in self.trees)
        return 1 / (1 + math.exp(-max(-60.0, min(60.0, height))))


def _height(tree: Tree, figures: Mapping[str, float]) -> float:
    while not isinstance(tree, float):
        name, threshold, is_missing_left, left, right = tree
        figure = figures[name]
        tree = left if (is_missing_left if math.isnan(figure) else figure <= threshold) else right
    return tree


@dataclass(frozen=True)
class Model:
    """`right`: that a meaning is what was said; `for_us`: of its figures where it is the likeliest, that anything was
    said to us at all."""

    right: Trees
    for_us: Trees


@cache
def load_model() -> Model:
    """The shipped one, read once."""
    return read_model(resources.files("bench_voice.hearing").joinpath("trees.json").read_text("utf-8"))


def read_model(text: str) -> Model:
    raw = json.loads(text)
    return Model(*(Trees(raw[name]["base"], raw[name]["trees"]) for name in ("right", "for_us")))
