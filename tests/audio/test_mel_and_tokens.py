"""The features and tokens of the whispers, held against the libraries that made them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from bench_voice.audio.byte_pairs import BytePairs
from bench_voice.audio.mel import BANDS, log_mel
from bench_voice.audio.weights import find_files
from bench_voice.words.phrases import load_language

RATE_HZ = 16_000


def sounds() -> dict[str, np.ndarray]:
    dice, at = np.random.default_rng(11), np.arange(RATE_HZ * 10) / RATE_HZ
    sweep = np.sin(2 * np.pi * (100 + 350 * at) * at) * np.exp(-at / 4)
    return {
        "silence": np.zeros(len(at), np.float32),
        "noise": (dice.standard_normal(len(at)) * 0.1).astype(np.float32),
        "sweep": sweep.astype(np.float32),
        "short": sweep[: RATE_HZ // 3].astype(np.float32),
    }


@pytest.mark.parametrize("kind", sounds())
def test_features_are_those_of_faster_whisper(kind: str) -> None:
    """Reference: faster-whisper 1.2.1 (feature_extractor.py), which follows openai-whisper's log_mel_spectrogram."""
    extractor = pytest.importorskip("faster_whisper.feature_extractor").FeatureExtractor()
    sound = sounds()[kind]
    wanted = extractor(sound, padding=0)
    found = log_mel(sound)
    assert found.dtype == wanted.dtype == np.float32
    assert found.shape == wanted.shape == (BANDS, len(sound) // 160)
    np.testing.assert_allclose(found, wanted, rtol=0, atol=1e-5)


def test_a_tone_stands_in_its_own_band() -> None:
    """1 kHz is 15 mel of Slaney's scale, 8 kHz 45.2: a third of the way up, band 26 of 80."""
    tone = np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ).astype(np.float32)
    assert int(log_mel(tone)[:, 50].argmax()) == 26


@pytest.fixture(scope="module", params=["whisper", "whisper-tiny"])
def files(request: pytest.FixtureRequest) -> Path:
    return find_files(request.param).path("tokenizer.json")


def texts() -> list[str]:
    english, german = load_language("en"), load_language("de")
    phrases = [phrase for language in (english, german) for group in language.commands.values() for phrase in group]
    words = [" " + word for word in (*english.vocabulary(), *german.vocabulary())]
    odd = [
        "", " ", "  two  blanks ", "tab\tand\nline\r\n", "it's we'll I'D they've", "4.60 mm, 12½ ² Ⅳ", "Größe Übermaß",
        "naïve café", "日本語 текст", "🔧 ok", "a_b-c/d", "\u00a0hard\u2003space", "'''s", "<|endoftext|>no token",
    ]  # fmt: skip
    return [*phrases, *words, *odd]


def test_tokens_are_those_of_the_package_tokenizers(files: Path) -> None:
    tokenizers = pytest.importorskip("tokenizers")
    theirs, ours = tokenizers.Tokenizer.from_file(str(files)), BytePairs(files)
    assert ours.vocabulary == theirs.get_vocab(with_added_tokens=True)
    asked = texts()
    assert len(asked) > 400
    for text in asked:
        numbers = ours.encode(text)
        if "<|" not in text:  # theirs takes it for the token that ends a text
            assert numbers == theirs.encode(text, add_special_tokens=False).ids, text
        assert ours.decode(numbers) == text


def test_any_numbers_read_as_the_package_reads_them(files: Path) -> None:
    tokenizers = pytest.importorskip("tokenizers")
    theirs, ours = tokenizers.Tokenizer.from_file(str(files)), BytePairs(files)
    dice = np.random.default_rng(4)
    for _ in range(300):
        numbers = dice.integers(0, len(ours.vocabulary), 12).tolist()
        assert ours.decode(numbers) == theirs.decode(numbers)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "tokenizer.json"
    other.write_text(json.dumps({"model": {"type": "Unigram"}, "pre_tokenizer": None, "added_tokens": []}), "utf-8")
    with pytest.raises(ValueError, match="another kind"):
        BytePairs(other)
