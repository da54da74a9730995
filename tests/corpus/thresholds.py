"""The least chances, chosen on the develop and calibrate parts (docs/hearing.md says how). Written into model.json.

Above 1 is never. Free text (notes, reminders) has no sentences in the corpus: the rules alone decide on it. A hold is
recorded by the rules of agreement only; its chance can only stop it.
"""

RECORD = {
    "quick": {"value": 0.9, "command": 0.9, "item": 0.9, "harmless": 0.5, "text": 0.0, "hold": 0.9, "question": 0.0},
    "quick3": {"value": 0.9, "command": 0.9, "item": 0.9, "harmless": 0.5, "text": 0.0, "hold": 0.9, "question": 0.0},
    "slow3": {"value": 0.93, "command": 0.8, "item": 0.8, "harmless": 0.6, "text": 0.0, "hold": 0.6, "question": 0.5},
    "slow": {"value": 0.93, "command": 0.8, "item": 0.8, "harmless": 0.6, "text": 0.0, "hold": 0.6, "question": 0.5},
    "first": {"value": 2.0, "command": 0.8, "item": 0.8, "harmless": 0.8, "text": 0.95, "hold": 0.97, "question": 0.5},
    "free": {"value": 2.0, "command": 0.8, "item": 0.8, "harmless": 0.6, "text": 0.0, "hold": 0.97, "question": 0.5},
}
ASK = {
    "quick": {"value": 0.3, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.0},
    "quick3": {"value": 0.3, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.0},
    "slow3": {"value": 0.25, "command": 0.4, "item": 0.4, "harmless": 0.4, "question": 0.15},
    "slow": {"value": 0.25, "command": 0.4, "item": 0.4, "harmless": 0.4, "question": 0.15},
    "first": {"value": 0.4, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.3},
    "free": {"value": 0.4, "command": 0.5, "item": 0.5, "harmless": 0.5, "question": 0.3},
}
