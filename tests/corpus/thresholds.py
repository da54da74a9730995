"""The least chances, chosen on the develop and calibrate parts (docs/hearing.md says how). Written into model.json.

Above 1 is never. Free text (notes, reminders) has no sentences in the corpus: the rules alone decide on it. A hold is
recorded by the rules of agreement only; its chance can only stop it.
"""

_QUICK = {"value": 0.9, "command": 0.9, "item": 0.9, "harmless": 0.5, "text": 0.0, "hold": 0.9, "question": 0.0}
_SLOW = {"value": 0.93, "command": 0.8, "item": 0.8, "harmless": 0.6, "text": 0.0, "hold": 0.6, "question": 0.5}
# What the first ear and a free text both mean was right in 171 of 171 values, and in every hold, command and item,
# however poor the figures: only a hold is held to any. Of what free ears alone mean, or less, no chance above 0.9 was
# wrong where the judging ear did not deny it (develop and calibrate parts, 1,404 clips, each decided by a model fitted
# without its text).
_BOTH = {"value both": 0.0, "command both": 0.0, "item both": 0.0, "hold both": 0.5}
RECORD = {
    "quick": _QUICK,
    "quick4": {**_QUICK, **_BOTH},
    "slow": {**_SLOW, **_BOTH},
    "slow4": {
        **_SLOW, **_BOTH, "value free": 0.85, "value weak": 0.95, "command free": 0.5, "item free": 0.5,
        "hold free": 0.8, "hold weak": 0.95,
    },
    "first": {"value": 2.0, "command": 0.8, "item": 0.8, "harmless": 0.8, "text": 0.95, "hold": 0.97, "question": 0.5},
    "free": {"value": 2.0, "command": 0.8, "item": 0.8, "harmless": 0.6, "text": 0.0, "hold": 0.97, "question": 0.5},
}  # fmt: skip
ASK = {
    "quick": {"value": 0.3, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.0},
    "quick4": {"value": 0.3, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.0},
    "slow4": {"value": 0.25, "command": 0.4, "item": 0.4, "harmless": 0.4, "question": 0.15},
    "slow": {"value": 0.25, "command": 0.4, "item": 0.4, "harmless": 0.4, "question": 0.15},
    "first": {"value": 0.4, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.3},
    "free": {"value": 0.4, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.3},
}
