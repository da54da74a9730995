"""The live loop on a simulated card: who is speaking, modes, keys, faults, sound check. No hardware, no waiting."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from live_fakes import FakeVoice, LiveRig, ScriptedEars, SileroEndpointer, SimCard, tone_pcm

from bench_voice.errors import EarFailed, EngineError
from bench_voice.ports import Heard
from bench_voice.session.modes import CallWord, Mode
from bench_voice.session.mouth import parts, trimmed
from bench_voice.session.supervise import SleepWatch

Make = Callable[..., LiveRig]


@pytest.fixture
def rig() -> Iterator[Make]:
    made: list[LiveRig] = []

    def make(*arguments: Any, **options: Any) -> LiveRig:
        made.append(LiveRig(*arguments, **options))
        return made[-1]

    yield make
    for one in made:
        one.close()


def test_a_whole_job_runs_live(rig: Make) -> None:
    script = ["next", "confirm both wheels are blocked", "affirm", "next", "three point one", "next", "next", "next"]
    live = rig(script)
    assert live.run()
    assert live.owner.state.ended == "signed-off"
    assert live.events[-1] == "SignedOff"
    assert live.said[-1].endswith("Signed off. Every item is closed.")
    assert "you: three point one" in live.said


def test_the_view_shows_what_was_written_freely(rig: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    """An ear that is held to the step's words makes a command of any talk: that must not be shown as heard."""
    shown: list[str] = []
    monkeypatch.setattr("bench_voice.session.console.Console.show", lambda self, view: shown.append(view.heard))
    talk = (
        Heard("a", "go back"),
        Heard("b", "", 0.0, free_words="what a day"),
        Heard("c", "", 0.0, free_words="a day"),
    )
    live = rig([talk])
    live.console.is_terminal = True
    live.run(60)
    assert [heard for heard in dict.fromkeys(shown) if heard] == ["what a day"]


@pytest.mark.parametrize("echo_db", [-20.0, -10.0, 0.0])
def test_its_own_voice_never_reaches_the_ears(rig: Make, echo_db: float) -> None:
    """Every sound counts as speech here; the ears would take whatever they get for the hold's phrase."""
    live = rig([], card=SimCard(echo_db=echo_db))
    live.ears[0].script[:] = ["confirm both wheels are blocked", "affirm"] * 20
    for _ in range(10):
        live.mouth.say(("Confirm both wheels are blocked. Affirm. Next. Three point one millimetres.",))
    live.run(60)
    assert live.card.played > 500, "it was played"
    assert live.ears[0].heard == []
    assert live.events == ["SessionStarted", "StepOpened"]


def test_with_a_headset_the_person_may_talk_over_it(rig: Make) -> None:
    live = rig([], is_echo_free=True)
    live.ears[0].script[:] = ["next"]
    live.card.at[50] = lambda: live.card._speech.extend(tone_pcm(1.0))
    live.mouth.say(("A very long sentence about nothing. " * 20,))
    live.run(30)
    assert len(live.ears[0].heard) == 1
    assert "NextRefused" in live.events
    assert live.card.now_s < 40


def test_a_key_stops_it_at_once_and_r_says_it_again(rig: Make) -> None:
    live = rig([])
    live.card.at[100] = lambda: live.live.key(" ", True)
    live.run(3)
    before = len(live.voice.said)
    assert not live.mouth.is_busy
    assert live.card.played < 140, "nothing is played any more after the key at 2 s of 3"
    live.card.at[round(live.card.now_s / 0.02) + 5] = lambda: live.live.key("r", True)
    live.run(60)
    assert len(live.voice.said) > before


def test_say_again_after_a_stop_says_what_was_stopped(rig: Make) -> None:
    live = rig(["where are we", "say again"])
    live.run(4)
    first = live.said[0]
    live.run(60)
    # Nothing was stopped: "say again" is the step.
    assert live.events.count("Told") == 2
    again = rig(["say again"])
    again.card.at[100] = lambda: again.live.key("x", True)
    again.run(60)
    assert again.said[-1] == first
    assert "Told" not in again.events


def test_only_what_begins_with_the_call_word_is_for_it(rig: Make) -> None:
    live = rig(["next", "bench next", "affirm", "bench"], mode=Mode.CALL_WORD, call=CallWord("bench"))
    live.card.people.append(tone_pcm(1.0))
    live.ears[0].script.append("go back")  # after the word alone none is needed
    live.run(90)
    assert [line for line in live.said if line.startswith("you")] == ["you: next", "you: go back"]
    assert live.events[2:] == ["NextRefused", "Refused"]


def test_push_to_talk_hears_only_while_the_key_is_open_and_answers_at_its_end(rig: Make) -> None:
    live = rig([], mode=Mode.PUSH_TO_TALK)
    live.run(20)
    live.ears[0].script[:] = ["next"]
    at = round(live.card.now_s / 0.02)
    live.card.at[at + 10] = lambda: live.card._speech.extend(tone_pcm(1.0))  # nobody pressed: not for it
    live.card.at[at + 150] = lambda: live.live.key(" ", True)
    live.card.at[at + 160] = lambda: live.card._speech.extend(tone_pcm(1.0))
    live.card.at[at + 215] = lambda: live.live.key(" ", True)
    live.run(5)
    assert len(live.ears[0].heard) == 1
    assert "NextRefused" in live.events
    assert live.ears[0].heard[0].speech_s == pytest.approx(1.0, abs=0.1)


def test_what_is_not_understood_gets_a_tone_and_words_and_tones_can_be_off(rig: Make) -> None:
    live = rig(["the kettle is on"])
    live.run(20)
    assert live.card.mixed >= 1, "not understood; and heard, where the answer is not there at once"
    assert any("Say again?" in line for line in live.said)
    silent = rig(["the kettle is on"], has_tones=False)
    silent.run(20)
    assert silent.card.mixed == 0


def test_three_sentences_in_a_row_that_were_not_understood_get_advice(rig: Make) -> None:
    talk = "the kettle is on"
    for script, times in (
        ([talk] * 2, 0),
        ([talk, talk, "where are we", talk, talk], 0),
        ([talk] * 3, 1),
        ([talk] * 7, 2),
    ):
        live = rig(list(script))
        live.run(90)
        assert sum("I hear you badly." in line for line in live.said) == times, script
        assert live.events[-1] in ("NotUnderstood", "Told")


def test_spoken_settings_change_the_voice_and_say_where_they_end(rig: Make) -> None:
    live = rig(["louder", "slower", "faster"])
    live.card.at[1] = lambda: None
    live.run(60)
    assert live.volume.asked == [("louder", True), ("faster", False), ("faster", True)]
    assert "bench: Louder." in live.said
    end = rig(["quieter"])
    end.volume.may = False
    end.run(30)
    assert "bench: I cannot speak quieter." in end.said
    waiting = rig(["stand by", "louder"])
    waiting.run(40)
    assert waiting.volume.asked == [], "on stand-by it does nothing but wait"


@pytest.mark.parametrize(
    ("change", "detail", "words"),
    [
        ("lost", "gone", "The microphone is gone. The session is kept; I go on when it is back."),
        ("flat", "zero", "The microphone gives no sound. Is it switched off?"),
        ("flat", "stuck", "The microphone is stuck. Unplug it and plug it in again."),
        ("overflow", "7", "Some sound was lost. Say it again if I do not answer."),
    ],
)
def test_faults_of_the_microphone_are_said_and_the_session_stays(
    rig: Make, change: str, detail: str, words: str
) -> None:
    live = rig([])
    live.run(20)
    live.live.microphone_changed(change, detail)
    live.live.microphone_changed(change, detail)
    live.run(20)
    found = [line for line in live.said if line == f"bench: {words}"]
    assert len(found) == (1 if change == "overflow" else 2), "lost sound is said once a minute"
    assert live.events == ["SessionStarted", "StepOpened"]


def test_when_the_microphone_is_back_it_says_what_the_step_wants(rig: Make) -> None:
    live = rig([])
    live.run(20)
    live.live.microphone_changed("back", "")
    live.run(10)
    assert live.said[-1] == "bench: The microphone is back. When it is so, say: confirm both wheels are blocked."


def test_a_loudspeaker_that_goes_is_shown_and_says_the_rest_when_it_is_back(rig: Make) -> None:
    live = rig([])

    def unplug() -> None:
        live.card.is_open = False
        live.live.loudspeaker_changed("lost", "unplugged")

    live.card.at[50] = unplug
    live.run(5)
    assert "bench: The loudspeaker is gone. The session is kept; I speak when it is back." in live.said
    cut = len(live.voice.said)
    live.card.is_open = True
    live.live.loudspeaker_changed("back", "")
    live.run(60)
    assert "The loudspeaker is back." in live.voice.said
    assert len(live.voice.said) > cut + 2, "what was cut off is said whole"


def test_of_several_notices_about_one_device_only_the_newest_is_spoken(rig: Make) -> None:
    live = rig([])
    live.run(20)
    before = len(live.voice.said)
    live.live.microphone_changed("lost", "gone")  # is being said at once
    for change in ("back", "lost", "back", "lost", "back"):
        live.live.microphone_changed(change, "")
    live.run(60)
    said = live.voice.said[before:]
    assert said.count("The microphone is back.") == 1
    assert said.count("The microphone is gone.") <= 1
    assert sum("The microphone is gone." in line for line in live.said) == 3, "all of it is shown"


def test_sleep_of_the_machine_is_said_and_the_devices_are_opened_anew(rig: Make) -> None:
    slept = {"s": 0.0}
    watch = SleepWatch(lambda: 100.0 + slept["s"], lambda: 100.0)
    live = rig([], sleep=watch)
    live.card.at[500] = lambda: slept.update(s=600.0)
    live.run(30)
    assert any("This machine was asleep for ten minutes." in line for line in live.said)
    assert live.card.reopened == 2
    assert live.events == ["SessionStarted", "StepOpened"]


def test_another_default_device_is_said(rig: Make) -> None:
    live = rig([])
    live.run(10)
    live.live.default_changed()
    assert live.card.reopened == 2
    live.run(10)
    assert "bench: Another sound device was chosen. I use it now." in live.said


def test_ears_that_fail_are_started_once_again_then_only_typing_is_left(rig: Make) -> None:
    live = rig([RuntimeError("boom"), "next", RuntimeError("again"), "next"])
    assert not live.run()
    assert len(live.ears) == 2
    assert "bench: My hearing failed and was started again. Say that again, please." in live.said
    assert "bench: I cannot hear any more. The session is kept; go on by typing." in live.said
    assert live.events == ["SessionStarted", "StepOpened", "NextRefused"]


LEFT_OUT = "bench: One of my ears has failed and is left out. I go on with the others, and ask more often."


def test_one_ear_that_fails_again_is_left_out_said_once_and_the_job_goes_on(rig: Make) -> None:
    torn = EarFailed("b", EngineError("The file is torn.", mend="Mend it.", slug="ear-model-broken"))
    live = rig([torn, torn, "next", "confirm both wheels are blocked", "affirm"])
    assert live.run(120)
    assert live.said.count(LEFT_OUT) == 1
    assert not [line for line in live.said if "I cannot hear any more" in line]
    assert live.events[:5] == ["SessionStarted", "StepOpened", "NextRefused", "HoldPhraseHeard", "HoldConfirmed"]


def test_an_ear_that_cannot_load_is_said_before_anybody_speaks(rig: Make) -> None:
    ears = ScriptedEars([])
    ears.cannot_load = (EarFailed("b", EngineError("Torn.", mend="Mend it.", slug="ear-model-broken")),)
    live = rig([], make_ears=lambda: ears)
    assert live.run(30)
    assert live.said.count(LEFT_OUT) == 1
    assert ears.names == ("a",)
    assert not ears.heard


def test_ears_that_never_answer_count_as_failed(rig: Make) -> None:
    dead = (Heard("a", "", evidence={"timeout": 1.0}), Heard("b", "", evidence={"crash": 1.0}))
    live = rig([dead, dead, dead, dead, dead])
    assert not live.run()
    assert len(live.ears) == 2


def test_ears_that_cannot_be_started_again_leave_typing(rig: Make) -> None:
    error = EngineError("No ear.", mend="Install one.", slug="ear-none")
    live = rig([RuntimeError("boom")], remade=[error])
    assert not live.run()
    assert "bench: I cannot hear any more. The session is kept; go on by typing." in live.said


def test_a_voice_that_fails_is_started_once_again_and_says_it_after_all(rig: Make) -> None:
    live = rig([], voice=FakeVoice(fails=1))
    assert live.run(60)
    assert "bench: My voice failed and was started again." in live.said


def test_a_voice_that_fails_twice_leaves_typing(rig: Make) -> None:
    live = rig([], voice=FakeVoice(fails=1), make_voice=lambda: FakeVoice(fails=9))
    assert not live.run(60)
    assert "bench: I cannot speak any more. The session is kept; go on by typing." in live.said
    assert live.events == ["SessionStarted", "StepOpened"]


def check(live: LiveRig, speech: bytes) -> list[str]:
    """The sound check by itself, with what the person says; what is said."""
    live.card.people.append(b"")
    live.card.limit_s = 60
    live.card.people.clear()
    live.card.people.append(speech) if speech else None
    # The person waits for the end of the two seconds, and answers when it is quiet again.
    live.card.people.appendleft(bytes(640 * 100))
    live.live.check()
    return live.said


def test_the_sound_check_says_how_well_it_will_hear_and_keeps_the_room(rig: Make) -> None:
    live = rig([], card=SimCard(room=0.001))
    said = check(live, tone_pcm(2.0, level=0.2))
    assert said[0] == "bench: I listen to the room. Two seconds of silence, please."
    assert said[1] == "bench: Now say: one two three four five."
    assert said[2] == "bench: I will hear you well."
    assert live.floor == [pytest.approx(-60.0, abs=0.5)], "noise of 0.001 of full scale is 60 dB below it"
    assert live.events == [], "the session begins after it"


def test_a_sound_check_that_hears_nobody_says_so_and_goes_on(rig: Make) -> None:
    live = rig([], card=SimCard(room=0.001))
    assert check(live, b"")[2:] == ["bench: I heard nobody. Come nearer to the microphone, or use a headset."]


@pytest.mark.parametrize(("mode", "has_floor"), [(Mode.OPEN, True), (Mode.PUSH_TO_TALK, False)])
def test_a_room_that_talks_is_held_down_but_not_what_is_said_with_the_key(
    rig: Make, mode: Mode, has_floor: bool
) -> None:
    hears_all = SileroEndpointer(lambda window: float(np.any(window)))
    live = rig([], card=SimCard(room=0.005), mode=mode, endpointer=hears_all)
    assert check(live, tone_pcm(2.0, level=0.2))[2:] == ["bench: I will hear you well."]
    assert hears_all.floor_db == (pytest.approx(-46.0, abs=1) if has_floor else None)


def test_a_sound_check_can_be_asked_for(rig: Make) -> None:
    live = rig(["sound check"], card=SimCard(room=0.001))
    live.card.people.extend([bytes(640 * 130), tone_pcm(2.0)])  # silence for the room, then the numbers
    live.run(60)
    assert "bench: Sound check." in live.said
    assert any(line.startswith("bench: I will hear you well. When it is so, say:") for line in live.said)
    assert len(live.ears[0].heard) == 1, "what is said for the check is no answer"


def test_silence_around_a_synthesised_sentence_is_cut() -> None:
    sound = tone_pcm(0.5)
    cut = trimmed(bytes(6400) + sound + bytes(11_200))
    assert len(sound) - 400 <= len(cut) <= len(sound) + 640
    assert trimmed(bytes(640)) == b""
    assert trimmed(b"") == b""


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Confirmed. Say next when ready.", ("Confirmed.", "Say next when ready.")),
        ("Affirm or negative?", ("Affirm or negative?",)),
        ("Four point six: yes.", ("Four point six:", "yes.")),
        ("", ()),
    ],
)
def test_sentences_are_broken_so_that_they_can_be_stopped(text: str, found: tuple[str, ...]) -> None:
    assert parts(text) == found


def test_long_sentences_are_broken_at_commas_and_nothing_is_lost() -> None:
    long = "Loosen the wheel nuts one turn, jack up the axle, set it down on both stands, shake the trailer, " * 3
    found = parts(long.strip(", "))
    assert max(map(len, found)) <= 120
    assert " ".join(found).replace(" ", "") == long.strip(", ").replace(" ", "")
