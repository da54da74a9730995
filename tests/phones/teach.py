"""Teaches a phone network: connectionist temporal classification on kept sayings, by JAX on the processor.

What it makes is data for `bench_voice.audio.phone_net`. One in thirty of the sayings is kept apart, to see when it no
longer gets better; they have the same voices as the others, so they don't say how well it does for people.
"""

from __future__ import annotations

import pickle
import random
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import optax
from rapidfuzz.distance import Levenshtein

from bench_voice.audio.phone_net import LABEL_OF

WIDTH = {"whisper": 160, "moonshine": 192}
_REACH = 5  # frames of a convolution
_BATCH = 32
_APART = 600
_DROPPED = 0.1  # of the features
_QUIET_DB = 30

Row = tuple[np.ndarray, list[int], str]  # states, labels, what it is counted under
Weights = dict[str, Any]


def rows_of(ear: str, files: Sequence[Path]) -> list[Row]:
    found: list[Row] = []
    for file in files:
        for saying in pickle.loads(file.read_bytes()):
            states = saying.states[ear]
            labels = [LABEL_OF[phone] for phone in saying.phones]
            if len(labels) <= 0.8 * len(states):
                found.append((states, labels, "quiet" if saying.snr_db > _QUIET_DB else "noise"))
    return found


def teach(ear: str, files: Sequence[Path], epochs: int, seed: int = 1) -> Weights:
    """The weights, by the names of PhoneNet. Prints errors of phones on the sayings kept apart."""
    rows = rows_of(ear, files)
    dice = random.Random(seed)
    dice.shuffle(rows)
    apart, rows = rows[:_APART], rows[_APART:]
    some = [states.astype(np.float32) for states, _, _ in rows[:800]]
    scale = {
        "mean": np.mean([states.mean(0) for states in some], 0),
        "std": np.sqrt(np.mean([states.var(0) for states in some], 0)) + 1e-3,
    }
    weights = _begin(rows[0][0].shape[1], WIDTH[ear], len(LABEL_OF) + 1)
    steps = epochs * (len(rows) // _BATCH)
    pace = optax.warmup_cosine_decay_schedule(1e-4, 2e-3, 300, steps, 2e-5)
    rule = optax.chain(optax.clip_by_global_norm(5.0), optax.adamw(pace, weight_decay=1e-3))
    memory = rule.init(weights)

    @jax.jit
    def step(weights: Weights, memory: Any, batch: Any, key: Any) -> Any:
        loss, slope = jax.value_and_grad(_loss)(weights, *batch, key)
        change, memory = rule.update(slope, memory, weights)
        return optax.apply_updates(weights, change), memory, loss

    key = jax.random.PRNGKey(7)
    for epoch in range(1, epochs + 1):
        begun, losses = time.monotonic(), []
        for batch in _batches(rows, scale, dice):
            key, drawn = jax.random.split(key)
            weights, memory, loss = step(weights, memory, batch, drawn)
            losses.append(float(loss))
        errors = _errors(weights, apart, scale)
        print(f"{ear} {epoch}: loss {np.mean(losses):.2f}, {errors}, {time.monotonic() - begun:.0f} s", flush=True)
    return {**scale, **{name: np.asarray(value) for name, value in weights.items()}}


def write(path: Path, weights: Weights) -> None:
    halves: dict[str, Any] = {name: np.asarray(value, np.float16) for name, value in weights.items()}
    np.savez_compressed(path, **halves)


def _begin(features: int, width: int, labels: int) -> Weights:
    keys = iter(jax.random.split(jax.random.PRNGKey(0), 4))

    def drawn(*shape: int, by: float = 1.0) -> Any:
        return jax.random.normal(next(keys), shape) * by * np.sqrt(2 / np.prod(shape[:-1]))

    return {
        "first": drawn(features, width), "first_bias": jnp.zeros(width),
        "second": drawn(_REACH, width, width, by=0.5), "second_bias": jnp.zeros(width),
        "third": drawn(_REACH, width, width, by=0.5), "third_bias": jnp.zeros(width),
        "last": drawn(width, labels, by=0.3), "last_bias": jnp.zeros(labels),
    }  # fmt: skip


def _scores(weights: Weights, states: Any, mask: Any) -> Any:
    """As PhoneNet, before the logarithms are made."""
    convolved = partial(
        jax.lax.conv_general_dilated, window_strides=(1,), padding="SAME", dimension_numbers=("NWC", "WIO", "NWC")
    )
    hidden = jax.nn.relu(states @ weights["first"] + weights["first_bias"]) * mask
    for name in ("second", "third"):
        hidden = (hidden + jax.nn.relu(convolved(hidden, weights[name]) + weights[f"{name}_bias"])) * mask
    return hidden @ weights["last"] + weights["last_bias"]


def _loss(weights: Weights, states: Any, empty: Any, labels: Any, no_label: Any, key: Any) -> Any:
    kept = jax.random.bernoulli(key, 1 - _DROPPED, (states.shape[0], 1, states.shape[2])) / (1 - _DROPPED)
    scores = _scores(weights, states * kept, (1 - empty)[..., None])
    return optax.ctc_loss(scores, empty, labels, no_label).mean()


def _batches(rows: Sequence[Row], scale: Weights, dice: random.Random) -> Iterator[tuple[np.ndarray, ...]]:
    """Of like lengths, in any order."""
    rows = sorted(rows, key=lambda row: len(row[0]) + 8 * dice.random())
    batches = [rows[at : at + _BATCH] for at in range(0, len(rows) - _BATCH + 1, _BATCH)]
    dice.shuffle(batches)
    for batch in batches:
        yield _batch(batch, scale)


def _batch(rows: Sequence[Row], scale: Weights) -> tuple[np.ndarray, ...]:
    longest = -(-max(len(states) for states, _, _ in rows) // 16) * 16
    most = -(-max(len(labels) for _, labels, _ in rows) // 8) * 8
    found = np.zeros((len(rows), longest, rows[0][0].shape[1]), np.float32)
    empty, no_label = np.ones((len(rows), longest), np.float32), np.ones((len(rows), most), np.float32)
    numbers = np.zeros((len(rows), most), np.int32)
    for at, (states, labels, _) in enumerate(rows):
        found[at, : len(states)] = (states.astype(np.float32) - scale["mean"]) / scale["std"]
        empty[at, : len(states)] = 0
        numbers[at, : len(labels)], no_label[at, : len(labels)] = labels, 0
    return found, empty, numbers, no_label


def _errors(weights: Weights, rows: Sequence[Row], scale: Weights) -> str:
    wrong: Counter[str] = Counter()
    all_of: Counter[str] = Counter()
    scores_of = jax.jit(_scores)
    rows = sorted(rows, key=lambda row: len(row[0]))
    for at in range(0, len(rows), _BATCH):
        some = rows[at : at + _BATCH]
        states, empty, _, _ = _batch(some, scale)
        best = np.asarray(scores_of(weights, states, (1 - empty)[..., None])).argmax(-1)
        for (row, labels, kind), found in zip(some, best, strict=True):
            frames = found[: len(row)]
            written = frames[np.concatenate([[True], frames[1:] != frames[:-1]])]
            wrong[kind] += Levenshtein.distance(written[written > 0].tolist(), labels)
            all_of[kind] += len(labels)
    return ", ".join(f"{kind} {100 * wrong[kind] / all_of[kind]:.1f} % of phones wrong" for kind in sorted(all_of))
