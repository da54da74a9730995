"""Phone networks' answers, packed into text: a byte a figure, finer the likelier it is, then zlib and base64."""

from __future__ import annotations

import base64
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

FLOOR = 16.0  # of a natural logarithm of a chance; what is less likely counts as this


def packed(scores: NDArray[np.float32]) -> dict[str, Any]:
    """`scores`: frames x (1 + phones), natural logarithms of chances."""
    steps = np.rint(255 * np.sqrt(np.clip(-scores, 0, FLOOR) / FLOOR)).astype(np.uint8)
    return {"shape": list(steps.shape), "z": base64.b85encode(zlib.compress(steps.tobytes(), 9)).decode()}


def unpacked(raw: dict[str, Any]) -> NDArray[np.float32]:
    steps = np.frombuffer(zlib.decompress(base64.b85decode(raw["z"])), np.uint8).reshape(raw["shape"])
    return np.asarray(-FLOOR * np.square(steps.astype(np.float32) / 255), np.float32)
