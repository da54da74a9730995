"""The arithmetic of the trade: verdict kinds, derived readings, torque, threads, tyres, electrics, mixing, wear.

Pure. `reckon(words)` answers a spoken question; every answer names its formula's source.
"""

from __future__ import annotations

from bench_voice.reckon.answer import MANUAL, Answer, ReckonError, Value
from bench_voice.reckon.questions import reckon
from bench_voice.reckon.spoken import as_json, said, text

__all__ = ["MANUAL", "Answer", "ReckonError", "Value", "as_json", "reckon", "said", "text"]
