"""A vocabulary as a JSGF 1.0 grammar (Java Speech Grammar Format, W3C note of 5 June 2000).

Kept flat: the recogniser copies a rule at each place that names it and closes over everything optional, so nested
numbers took 2.5 s to load and longer than the sentence to decode. Words of a number are a loop; the parser is the gate.
"""

from __future__ import annotations

from collections.abc import Iterable

from bench_voice.grammar.trade import trade_tops
from bench_voice.grammar.vocabulary import Vocabulary


def jsgf(vocabulary: Vocabulary, name: str = "step") -> str:
    """The grammar's text. Its public rule takes one whole utterance."""
    rules: dict[str, str] = {}
    tops = _tops(vocabulary, rules)
    top = " | ".join(text for text in tops if text)
    if vocabulary.call:
        rules["sentence"] = top
        front = vocabulary.call if vocabulary.is_call_needed else f"[{vocabulary.call}]"
        top = f"{front} <sentence> | {vocabulary.call}"
    body = "\n".join(f"<{key}> = {text};" for key, text in rules.items())
    return f"#JSGF V1.0;\ngrammar {name};\npublic <utterance> = {top};\n{body}\n"


def _tops(v: Vocabulary, rules: dict[str, str]) -> list[str]:
    """The forms of a whole utterance, empty ones among them; enters the rules that they name into `rules`."""

    def rule(key: str, *lists: Iterable[str]) -> str:
        """Enters a rule of alternatives, each once; empty text where there are none."""
        text = " | ".join(dict.fromkeys(phrase for phrases in lists for phrase in phrases))
        if not text:
            return ""
        rules[key] = text
        return f"<{key}>"

    def after(lead: tuple[str, Iterable[str]], what: tuple[str, Iterable[str]], more: str = "") -> str:
        """A lead-in and what it is about; empty where there is none of either."""
        is_whole = all(tuple(phrases) for _, phrases in (lead, what))
        return f"{rule(*lead)} {rule(*what)}{more}" if is_whole else ""

    hundreds = [f"{article} {big}" for article in v.articles[:1] for big in (*v.hundred, *v.scales)]
    number = rule("n", v.digits, v.teens, v.tens, v.hundred, v.scales, v.point, v.and_, v.minus, hundreds, v.fractions)
    before = rule("before", v.names, v.fillers, v.hedges, v.corrections)
    unit = rule("unit", v.units)
    # Where several values come in one breath, each has its unit.
    several = f"({number} | {unit})+" if unit else f"{number}+"
    amount = several if v.has_points or not unit else f"{number}+ [{unit}]"
    tops = [f"[{before}+] {amount}"]
    if v.conversion_leads and v.conversion_joins and v.units:
        # Only after its lead-in: a free "to" and a unit were heard for every "two" before one.
        ends = f"{rule('join', v.conversion_joins)} {rule('into', v.units)}"
        tops.append(f"{rule('convert', v.conversion_leads)} {number}+ {unit} {ends}")
    tops.append(rule("alone", v.commands, v.judgements, v.queries, v.decoys, (v.hold,) if v.hold else ()))
    if v.timer_leads and v.time_units:
        lead = f"{rule('timerlead', v.timer_leads)} {_optional(rule('timerfor', v.timer_for))}"
        tops.append(f"{lead} {number}+ {rule('time', v.time_units)}")
    tops += [
        after(("look", v.looks), ("judgement", v.judgements)),
        after(("itemlead", v.item_leads), ("item", v.items)),
        after(("freelead", v.free_leads), ("free", v.free), "+"),
        after(("querylead", v.query_leads), ("asked", v.names)),
        rule("named", v.names),  # a name without a number: asked about
    ]
    if v.trade:
        asked, more = trade_tops(v.trade, number)
        tops += asked
        rules.update(more)
    return tops


def _optional(text: str) -> str:
    return f"[{text}]" if text else ""
