"""All ears' answers to one utterance together: which of them bear out a meaning. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from bench_voice.core.intents import VALUES, Expected, Intent, Kind, unit_of
from bench_voice.hearing.witness import Witness, key_of, same, same_number, witness
from bench_voice.phonetics import letter_distance
from bench_voice.ports import Fit, Heard
from bench_voice.words.phrases import Language

_THOUGHT_OF = 0.3  # weight of a meaning among the second ear's alternatives that bears out the first ear
_NEARLY = 0.3  # letters' distance of what the first ear heard and what two free ears mean
# Seconds a letter. Outside of babble no value that two ears agreed on took more than 0.14; in babble, where the end of
# speech can't be told, "five point six" took 0.25 and was five point six one (calibrate part).
_SLOWEST_S = 0.15
_JUDGES = frozenset({"moonshine"})  # which can say how well given words fit
# Log-probabilities by the judging ear: what a meaning needs to be borne out (mean of a token of its number, least lead
# of its number words over others), and below what it is denied (that lead, and the lead over all else that was heard).
# Chosen on the develop and calibrate parts.
_TAIL, _MARGIN = -2.0, 0.25
# A decimal point may be "boy" or "five" in noise.
_DENIED_MARGIN, _DENIED_POINT, _DENIED_LEAD = -2.5, -3.5, -1.0
CLEAR = 3.5  # the least lead of a number word that has a twin
_BEST = -1.0  # of the whole text, against its own best
_SURE = -3.5  # of the whole text, against its own best
_LEAD_OVER_OWN = 1.0  # the lead that is needed over another value that it wrote itself
# Of 266 clips of whole sound none had less hiss than -30 dB (the dullest of 12 voices has -34 for "one two three four
# five"), of 12 rows of digits at 8 kHz none more than -46.
CUT_OFF_DB = -40.0
_MORE_WORDS = 3


@dataclass(frozen=True)
class Case:
    """All answers to one utterance. `firsts`: ears held to a grammar; `second`, `third`: free ears; `judge`: the free
    ear of another family, which says how well the others' words fit; where no other free ear is, it is the second."""

    firsts: tuple[Witness, ...]
    second: Witness | None
    third: Witness | None = None
    judge: Witness | None = None

    @staticmethod
    def of(heard: Sequence[Heard], expected: Expected, language: Language) -> Case:
        alone = len({h.ear for h in heard}) == 1
        found = [witness(h, expected, language, alone) for h in heard]
        free = [w for w in found if w.free is not None]
        judge = next((w for w in free if len(free) > 1 and w.heard.ear in _JUDGES), None)
        second, third, *_ = [*(w for w in free if w is not judge), None, None]
        return Case(tuple(w for w in found if w.free is None), second, third, judge)

    @property
    def frees(self) -> tuple[Witness, ...]:
        """The free ears that can be held to the step's words."""
        return tuple(w for w in (self.second, self.third) if w is not None)

    @property
    def writers(self) -> tuple[Witness, ...]:
        """All free ears."""
        return (*self.frees, *([self.judge] if self.judge is not None else []))

    @cached_property
    def agreed(self) -> Intent | None:
        """What two ears mean, a first one and a free text or two free texts; with the unit where one of them heard
        it."""
        texts = [w.free for w in self.writers if w.free is not None]
        pairs = [(first.intent, free) for first in self.firsts for free in texts]
        pairs += [(one, other) for at, one in enumerate(texts) for other in texts[at + 1 :]]
        for one, other in pairs:
            if same(one, other):
                return one if unit_of(one) else other
        return None

    def fit_of(self, intent: Intent) -> Fit | None:
        """What the judging ear says of it; None where there is none, or it wasn't asked."""
        return self.judge.fit_of(intent) if self.judge is not None else None

    def backing(self, intent: Intent) -> int:
        """How many free ears give their word for it."""
        return sum(w.backs(intent) for w in self.writers)

    def is_written_by_all(self, intent: Intent) -> bool:
        """Every free ear wrote it itself."""
        return all(w.free is not None and same(w.free, intent) for w in self.writers)

    def is_written_by_any(self, intent: Intent) -> bool:
        """A free ear wrote it itself."""
        return any(w.free is not None and same(w.free, intent) for w in self.writers)

    def is_unanimous(self, intent: Intent) -> bool:
        """Every free ear gives its word for it."""
        return self.backing(intent) == len(self.writers)

    def is_well_heard(self, intent: Intent) -> bool:
        """The first ear heard it, and of several free ears more than one did. "Sixty two" was "fifty two" to the first
        and to one of three."""
        return self.is_heard_by_first(intent) and self.backing(intent) >= min(2, len(self.writers))

    def is_borne_out_by_judge(self, intent: Intent) -> bool:
        """The judging ear finds it likely, and no other number in its place."""
        fit = self.fit_of(intent)
        return fit is not None and fit.tail >= _TAIL and min(fit.margin, fit.point + _MARGIN) >= _MARGIN

    def is_fitter(self, intent: Intent, other: Intent) -> bool:
        """The judging ear finds it likelier than the other."""
        one, two = self.fit_of(intent), self.fit_of(other)
        return one is not None and (two is None or one.score > two.score)

    @property
    def is_judge_wanted(self) -> bool:
        """Whether there is something to ask a judging ear about, and it wasn't asked yet."""
        return self.judge is not None and not self.judge.opinions and bool(self.wordings)

    def is_surely_borne_out_by_judge(self, intent: Intent) -> bool:
        """It also fits nearly as well as what the judging ear would write itself."""
        fit = self.fit_of(intent)
        return fit is not None and fit.score >= _SURE and self.is_borne_out_by_judge(intent)

    def is_best_to_judge(self, intent: Intent) -> bool:
        """The judging ear finds it as likely as what it would write itself."""
        fit = self.fit_of(intent)
        return fit is not None and fit.score >= _BEST

    def is_clear_to_judge(self, intent: Intent) -> bool:
        """No other number word comes near one of its own."""
        fit = self.fit_of(intent)
        return fit is not None and fit.margin >= CLEAR

    def is_denied_by_judge(self, intent: Intent) -> bool:
        """The judging ear wasn't asked, or finds another number or other words likelier."""
        fit = self.fit_of(intent)
        if self.judge is None or fit is None:
            return True
        if fit.margin < _DENIED_MARGIN or fit.point < _DENIED_POINT:
            return True
        # Of what it wrote itself, "six to five" is another spelling and "cross slide" the beginning.
        own, lead = self.judge.free, self.judge.lead_of(intent, is_over_values=self.judge.backs(intent))
        wrote_other = own is not None and own.kind in VALUES and not same(own, intent)
        return lead is not None and lead < (_LEAD_OVER_OWN if wrote_other else _DENIED_LEAD)

    @cached_property
    def wordings(self) -> tuple[str, ...]:
        """Each text that any witness heard and that means something, once: what a judging ear is asked about."""
        found: dict[str, None] = {}
        for w in (*self.writers, *self.firsts):
            for intent in (w.free, w.intent, *(intent for intent, _ in w.meanings)):
                if intent is not None and intent.kind is not Kind.UNKNOWN and intent.heard:
                    found.setdefault(intent.heard)
        return tuple(found)

    def held_otherwise(self, intent: Intent) -> tuple[Intent, ...]:
        """For a value: other values of the free ears when held to the step's words. At the end of a sentence in noise
        both free texts may lose a digit, and one finds it again so."""
        if intent.kind not in VALUES:
            return ()
        is_sure = self.is_unanimous(intent) and len(self.writers) > 2 and len(intent.heard.split()) > 1
        if is_sure and self.is_borne_out_by_judge(intent):
            return ()  # held to the step's words, a Whisper may say a digit once more
        return tuple(
            w.intent for w in self.frees if w.is_limited and w.intent.kind in VALUES and not same(w.intent, intent)
        )

    def leaves_unsaid(self, intent: Intent) -> bool:
        """More speech than words: with voices all around, free ears write what they caught and pass over the rest."""
        return self.speech_s > _SLOWEST_S * max(1, len(intent.heard))

    def is_denied_by_any(self, intent: Intent) -> bool:
        """A free ear wrote a negation or an alternative that it hasn't."""
        return any(w.negates(intent.heard) for w in self.writers)

    def is_nearly_heard_by_first(self, intent: Intent) -> bool:
        """What the first ear heard sounds much like it, though it means something else or nothing."""
        return any(
            first.heard.words and letter_distance(first.heard.words, intent.heard) <= _NEARLY for first in self.firsts
        )

    def is_heard_by_first(self, intent: Intent) -> bool:
        return any(same(first.intent, intent) for first in self.firsts)

    @cached_property
    def candidates(self) -> tuple[Intent, ...]:
        """Every meaning that any witness had, each once."""
        found: dict[tuple[object, ...], Intent] = {}
        intents: Iterable[Intent] = (
            *([self.agreed] if self.agreed is not None else []),
            *(w.free for w in self.writers if w.free is not None),
            *(w.intent for w in self.firsts),
            *(intent for w in self.frees for intent, _ in w.meanings),
        )
        for intent in intents:
            if intent.kind is not Kind.UNKNOWN:
                found.setdefault(key_of(intent), intent)
        return tuple(found.values())

    def bears_out(self, intent: Intent, in_doubt: Callable[[Intent], bool]) -> bool:
        """Whether there is evidence enough to record without two ears' plain agreement, however good the figures look.

        Two ears bear it out: what the first heard, what a free text says, what a free ear held to the step's words
        heard that sounds like its free text. Or the first heard it, and the second thought of it, or of its number
        under a name that it didn't catch. Or one of these, and the judging ear finds that it fits. `in_doubt`: values
        that free ears alone don't record.
        """
        second = self.second
        if second is None:
            return bool(self.firsts)
        if in_doubt(intent):
            return False
        backing = self.backing(intent)
        if self.is_heard_by_first(intent):
            return (
                backing > 0
                or second.weight_of(intent) > _THOUGHT_OF
                or any(same_number(w.tail, intent) for w in self.writers)
                or self.is_borne_out_by_judge(intent)
            )
        if self.held_otherwise(intent):
            return False
        if any(_is_in_other_unit(first.intent, intent) for first in self.firsts):
            return False
        # The judge bears out another's word, never its own.
        return backing > 1 or (any(w.backs(intent) for w in self.frees) and self.is_borne_out_by_judge(intent))

    def is_talk_to_any(self, intent: Intent) -> bool:
        """A free ear wrote three words more or longer, and they mean nothing. "Next month is no good for me" of a radio
        was "next" to one ear and "next one please" to the first; of 230 commands none had more than two."""
        count = len(intent.heard.split())
        talk = [w.heard.free_words or "" for w in self.writers if w.free is not None and w.free.kind is Kind.UNKNOWN]
        return any(len(text.split()) >= count + _MORE_WORDS for text in talk)

    def is_outvoted(self, intent: Intent) -> bool:
        """Two free ears or more wrote another number, under whatever name. "Seven two two" of one ear and both networks
        was "seventy two" to one ear and "seven two" to another (report part)."""
        wrote = [w.free if w.free is not None and w.free.kind in VALUES else w.tail for w in self.writers]
        numbers = [one for one in wrote if one.kind in VALUES]
        return sum(not same(one, intent) and not same_number(one, intent) for one in numbers) > 1

    @property
    def speech_s(self) -> float:
        witnesses = (*self.firsts, *([self.second] if self.second else []))
        return max((w.heard.evidence.get("speech_s", 1.0) for w in witnesses), default=0.0)

    @property
    def is_cut_off(self) -> bool:
        """The microphone or its link passes no hiss: a telephone's band."""
        hiss_db = (w.heard.evidence.get("hiss_db", 0.0) for w in (*self.firsts, *self.writers))
        return min(hiss_db, default=0.0) < CUT_OFF_DB


def _is_in_other_unit(a: Intent, b: Intent) -> bool:
    """The same digits in another unit: one of the two ears dropped or made up a word that matters."""
    return a.kind is b.kind is Kind.READING and str(a.value) == str(b.value) and a.in_limit_unit != b.in_limit_unit
