"""The evidence model from the calibration part: logistic regression, checked by folds that share no text."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from bench_voice.hearing import weigh
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.figures import FORMS, figures
from bench_voice.hearing.witness import same
from tests.corpus import texts
from tests.corpus.listen import heard_of
from tests.corpus.texts import Said

# Which ears a form is fitted for; the others' answers are left out.
EARS = {
    "quick": ("pocketsphinx", "whisper"),
    "slow": ("pocketsphinx", "whisper"),
    "quick4": ("pocketsphinx", "whisper", "whisper-tiny", "moonshine"),
    "slow4": ("pocketsphinx", "whisper", "whisper-tiny", "moonshine"),
    "first": ("pocketsphinx",),
    "free": ("whisper",),
}


def cases(lines: Iterable[dict[str, Any]], form: str) -> Iterable[tuple[str, dict[str, float], bool, str]]:
    """(text, figures, whether it is right, group) of every candidate of every utterance in that form."""
    for line in lines:
        said = Said(**line["said"])
        expected, truth = texts.expected_of(said.sheet, said.step), texts.truth(said)
        for piece in line["pieces"]:
            heard = [one for one in heard_of(piece) if one.ear in EARS[form]]
            if not heard:
                continue
            case = Case.of(heard, expected, texts.LANGUAGE)
            is_quick = form.startswith("quick")
            if is_quick and case.agreed is None:
                continue
            candidates = (case.agreed,) if is_quick else case.candidates
            for intent in candidates:
                if intent is not None:
                    right = same(intent, truth) and len(line["pieces"]) == 1
                    yield said.text, figures(case, intent), right, weigh.group_of(intent)


def fitted(
    lines: list[dict[str, Any]], form: str, c: float = 0.5
) -> tuple[dict[str, Any], list[tuple[float, bool, str]]]:
    """The form's coefficients on figures as they come, and (chance, right, group) of every case out of its fold."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.model_selection import GroupKFold
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    rows = list(cases(lines, form))
    x = np.array([[found.get(name, 0.0) for name in FORMS[form]] for _, found, _, _ in rows])
    y = np.array([right for _, _, right, _ in rows])
    groups = [text for text, _, _, _ in rows]

    if y.all():
        # Nothing was ever wrong: all that can be said is how often it wasn't (rule of succession).
        n = len(y)
        plain = {"bias": round(float(np.log(n + 1)), 5), "weights": {}}
        return plain, [((n + 1) / (n + 2), True, group) for _, _, _, group in rows]

    def make() -> Any:
        return make_pipeline(StandardScaler(), LogisticRegression(C=c, max_iter=2000))

    out = np.zeros(len(y))
    for train, test in GroupKFold(5).split(x, y, groups):
        if y[train].all():  # the few that were wrong are all in the other fold
            out[test] = (len(train) + 1) / (len(train) + 2)
        else:
            out[test] = make().fit(x[train], y[train]).predict_proba(x[test])[:, 1]
    model = make().fit(x, y)
    scale, logistic = model[0], model[1]
    weights = logistic.coef_[0] / scale.scale_
    bias = float(logistic.intercept_[0] - np.sum(weights * scale.mean_))
    plain = {
        "bias": round(bias, 5),
        "weights": {n: round(float(w), 5) for n, w in zip(FORMS[form], weights, strict=True)},
    }
    return plain, [(float(p), bool(r), g) for p, r, (_, _, _, g) in zip(out, y, rows, strict=True)]


def reliability(found: list[tuple[float, bool, str]]) -> str:
    """Brier score and, by tenths of the chance, how often it was right."""
    p = np.array([chance for chance, _, _ in found])
    y = np.array([right for _, right, _ in found], dtype=float)
    lines = [f"Brier score {np.mean((p - y) ** 2):.4f} ({len(y)} cases, {int(y.sum())} right)"]
    for low in np.arange(0, 1, 0.1):
        inside = (p >= low) & (p < low + 0.1 if low < 0.89 else p <= 1)
        if inside.any():
            lines.append(
                f"  {low:.1f}–{low + 0.1:.1f}: said {p[inside].mean():.3f}, was {y[inside].mean():.3f} ({inside.sum()})"
            )
    return "\n".join(lines)


def write(path: Path, forms: dict[str, Any], record: dict[str, Any], ask: dict[str, Any]) -> None:
    path.write_text(json.dumps({"forms": forms, "record": record, "ask": ask}, indent=1) + "\n", "utf-8")
