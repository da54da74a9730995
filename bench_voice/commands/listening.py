"""The ears of a command, with a listener around them: which ones, and how the person says words, from its settings."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bench_voice.config import Config
from bench_voice.phonetics import no_ways, spoken
from bench_voice.ports import Heard
from bench_voice.session.listen import Listener
from bench_voice.words.phrases import Language


def make_listener(
    engine: str | None,
    config: Config,
    language: Language,
    *,
    call: Callable[[], tuple[str, bool]] = lambda: ("", True),
    addressed: Callable[[Sequence[Heard]], tuple[Heard, ...]] = tuple,
    is_hurried: bool = False,
) -> Listener:
    """`engine`: only this ear; else those of the settings, else what is here. `call`, `addressed`: of a call word.
    `is_hurried`: somebody waits for the answer.

    Raises EngineError for an ear that cannot be had, UsageError for pronunciations that cannot be read.
    """
    from bench_voice.audio import factory
    from bench_voice.audio.ears import Ears
    from bench_voice.audio.own_words import read_own

    names = [engine] if engine else (list(config.ears) if config.ears else None)
    known = spoken if language.code == "en" else None
    made = factory.make_ears(names, language, call, read_own(config.pronunciations), known)
    return Listener(Ears(made), language, addressed, known or no_ways, is_hurried)
