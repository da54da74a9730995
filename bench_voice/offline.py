"""Nothing leaves the machine: every library that would report, look for news or fetch is told not to.

Set before anything else is imported, and inherited by every process that is started from here. Set, not proposed: a
person's environment does not turn reports of a bench on. `tests/network` proves what it comes to.
"""

from __future__ import annotations

import os

SWITCHES = {
    # onnxruntime from 1.32: events to its maker, a device's id and a queue of them in the cache folder. It reads this
    # once, when its library is loaded; `disable_telemetry_events()` comes too late and stops nothing.
    "ORT_DISABLE_TELEMETRY": "1",
    # The hub's client comes with faster-whisper, which fetches a model that is named and not given as a folder.
    "HF_HUB_OFFLINE": "1",
    "HF_HUB_DISABLE_TELEMETRY": "1",
    "HF_HUB_DISABLE_UPDATE_CHECK": "1",
    "HF_HUB_DISABLE_IMPLICIT_TOKEN": "1",
    "HF_DATASETS_OFFLINE": "1",
    "TRANSFORMERS_OFFLINE": "1",
    # For development: JAX asks a cloud's address of the machine's network whether this is one of its accelerators.
    "TPU_SKIP_MDS_QUERY": "1",
    # What several libraries honour alike.
    "DISABLE_TELEMETRY": "1",
    "DO_NOT_TRACK": "1",
}


def apply() -> None:
    """For this process and those that it starts."""
    os.environ.update(SWITCHES)
