"""What the first ear listens for when a question of the trade is asked: the usual forms, kept small.

Words for all that `bench-voice reckon` answers made the grammar four times as slow and pulled readings into questions
(measured); these forms cost about a twentieth. The free ears need none of them. A test holds each form to a question
that `reckon` answers.
"""

from __future__ import annotations

from dataclasses import dataclass

Phrases = tuple[str, ...]


@dataclass(frozen=True)
class Trade:
    """`converts` number unit `joins` unit; `many` unit in number unit; `threads` number; `leads`, then numbers, units
    and `words` in any order.

    "to" is not among the words that may stand anywhere: it sounds like "two".
    """

    converts: Phrases
    joins: Phrases
    many: Phrases
    threads: Phrases
    leads: Phrases
    words: Phrases
    units: Phrases

    def all_words(self) -> Phrases:
        """Every word, sorted; "in" stands in a form itself."""
        phrases = (phrase for group in vars(self).values() for phrase in group)
        return tuple(sorted({"in", *(word for phrase in phrases for word in phrase.split())}))


def _split(text: str) -> Phrases:
    return tuple(phrase.strip() for phrase in text.split(","))


TRADE: dict[str, Trade] = {
    "en": Trade(
        converts=_split("what is, how much is, convert"),
        joins=_split("in, to, into"),
        many=_split("how many"),
        threads=_split("drill for m, what drill for m, stress area of m"),
        leads=_split(
            "extension, torque for m, tyre date, load index, voltage drop of, battery, sleeve, wrench tolerance at"
        ),
        words=_split(
            "plus, at, by, class, of, square millimetre, square millimetres, gauge wire, cable, oiled, dry, thimble"
        ),
        units=_split(
            "foot pounds, newton metres, inch pounds, millimetres, inches, centimetres, thou, bar, p s i, "
            "degrees celsius, degrees fahrenheit, degrees, liters, milliliters, u s gallons, imperial gallons, "
            "imperial pints, kilometres, miles, pounds, kilograms, volts, amps, metres, feet"
        ),
    )
}


def trade_tops(trade: Trade, number: str) -> tuple[tuple[str, ...], dict[str, str]]:
    """Alternatives for the grammar's top, and the rules that they name; `number`: the rule of a number's words."""
    rules = {
        f"trade{name}": " | ".join(getattr(trade, name))
        for name in ("converts", "joins", "many", "threads", "leads", "units")
    }
    rules["tradetail"] = " | ".join((number, "<tradeunits>", *trade.words))
    unit = "<tradeunits>"
    tops = (
        f"<tradeconverts> {number}+ {unit} <tradejoins> {unit}",
        f"<trademany> {unit} in {number}+ {unit}",
        f"<tradethreads> {number}+",
        "<tradeleads> <tradetail>+",
    )
    return tops, rules
