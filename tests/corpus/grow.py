"""Grows the trees of the search's chances (`hearing/trees.json`) on the develop and calibrate parts, and tells how they
do on sentences that they were not grown on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from bench_voice.core.intents import Kind, Question, Remark, options_of
from bench_voice.hearing.candidates import Evidence, evidence_of, same
from bench_voice.hearing.features import FEATURES, figures
from tests.corpus import texts
from tests.corpus.listen import graph_of, heard_of
from tests.corpus.texts import OUTSIDE, Said

_EARS = ("whisper", "moonshine")  # whose evidence they are grown on: both have a phone network
_FOLDS = 5
_RIGHT = {"max_iter": 120, "max_leaf_nodes": 10, "min_samples_leaf": 20}
_FOR_US = {"max_iter": 60, "max_leaf_nodes": 6, "min_samples_leaf": 30}


def _evidence(expected: Any, piece: dict[str, Any]) -> Evidence:
    heard = [one for one in heard_of(piece) if one.ear in _EARS]
    return evidence_of(expected, heard, texts.LANGUAGE, graph_of(expected))


def grow(lines: Iterable[dict[str, Any]], path: Path) -> str:
    """Writes both models; returns how many values would be wrong and right at the least chance, by folds."""
    rows: list[list[float]] = []
    right: list[bool] = []
    piece_of: list[int] = []
    kinds: list[Kind] = []
    is_said: list[bool] = []
    fold: list[int] = []
    pieces = 0
    for line in lines:
        said = Said(**line["said"])
        expected, truth = texts.expected_of(said.sheet, said.step), texts.truth(said)
        for piece in line["pieces"]:
            evidence = _evidence(expected, piece)
            for intent in evidence.candidates:
                known = figures(evidence, intent)
                rows.append([known[feature.name] for feature in FEATURES])
                meant = (intent, *options_of(intent)) if isinstance(intent, Question) else (intent,)
                is_free = isinstance(intent, Remark) and intent.kind is truth.kind
                right.append(is_free or any(same(one, truth) for one in meant))
                piece_of.append(pieces)
                kinds.append(intent.kind)
                is_said.append(said.kind not in OUTSIDE)
                fold.append(int(hashlib.md5(said.text.encode(), usedforsecurity=False).hexdigest(), 16) % _FOLDS)
            pieces += 1
    x, y, folds = np.array(rows, np.float32), np.array(right), np.array(fold)
    chances = np.zeros(len(y))
    for at in range(_FOLDS):
        chances[folds == at] = _grown(x[folds != at], y[folds != at], _RIGHT).predict_proba(x[folds == at])[:, 1]
    best: dict[int, int] = {}
    for row, piece in enumerate(piece_of):
        if piece not in best or chances[row] > chances[best[piece]]:
            best[piece] = row
    top = np.array(list(best.values()))
    models = {
        "right": _plain(_grown(x, y, _RIGHT)),
        "for_us": _plain(_grown(x[top], np.array(is_said)[top], _FOR_US)),
    }
    path.write_text(json.dumps(models), encoding="utf-8")
    values = [row for row in top if kinds[row] is Kind.READING]
    told = []
    for least in (0.9, 0.97, 0.993):
        taken = [row for row in values if chances[row] >= least]
        told.append(f"{least}: {sum(not y[row] for row in taken)} wrong of {len(taken)}")
    return f"{pieces} utterances; values by folds, before the vetoes, {'; '.join(told)}"


def _grown(x: Any, y: Any, size: dict[str, int]) -> Any:
    from sklearn.ensemble import HistGradientBoostingClassifier

    signs = [feature.sign for feature in FEATURES]
    made = HistGradientBoostingClassifier(
        learning_rate=0.08, l2_regularization=3.0, monotonic_cst=signs, early_stopping=False, random_state=1, **size
    )
    return made.fit(x, y)


def _plain(model: Any) -> dict[str, Any]:
    def tree(nodes: Any, at: int = 0) -> Any:
        node = nodes[at]
        if node["is_leaf"]:
            return round(float(node["value"]), 5)
        threshold = float(node["num_threshold"])
        name = FEATURES[node["feature_idx"]].name
        rest = [tree(nodes, node["left"]), tree(nodes, node["right"])]
        return [name, round(threshold, 4) if np.isfinite(threshold) else 1e9, bool(node["missing_go_to_left"]), *rest]

    trees = [tree(each[0].nodes) for each in model._predictors]
    return {"base": float(np.ravel(model._baseline_prediction)[0]), "trees": trees}
