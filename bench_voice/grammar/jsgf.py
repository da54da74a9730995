"""A vocabulary as a JSGF 1.0 grammar (Java Speech Grammar Format, W3C note of 5 June 2000).

Loops are only where numbers and free text need them.
"""

from __future__ import annotations

from collections.abc import Iterable

from bench_voice.grammar.vocabulary import Vocabulary


def jsgf(vocabulary: Vocabulary, name: str = "step") -> str:
    """The grammar's text. Its public rule takes one whole utterance."""
    v = vocabulary
    rules: dict[str, str] = {}

    def rule(key: str, phrases: Iterable[str]) -> str:
        """Enters a rule of alternatives; empty text where there are none."""
        text = " | ".join(phrases)
        if not text:
            return ""
        rules[key] = text
        return f"<{key}>"

    sub = rule("sub", _joined(rule("digit", v.digits), rule("teen", v.teens), _tens(v)))
    big = rule("big", (*v.hundred, *v.scales))
    joined = f"{sub}+"
    article = rule("article", v.articles)
    if big:
        start = f"({sub} | {article})" if article else sub
        # "two hundred and twenty", "a thousand five hundred", and digits one by one.
        joined = f"({sub}+ | {start} ({big}+ [{_any(v.and_)}] [{sub}+])+)" if v.and_ else f"({sub}+ | {start} {big}+)"
    whole = rule("whole", (joined,))
    point = rule("point", v.point)
    tail = f"{point} <digit>+" if point else ""
    value = [f"{whole} [{tail}]", tail] if tail else [whole]
    if v.fractions:
        fraction = rule("fraction", v.fractions)
        number = f"[{article}] {fraction}" if article else fraction
        value += [number, f"{sub} {fraction}"]
        if v.and_:
            value += [f"{whole} {_any(v.and_)} ({number} | {sub} {fraction})"]
    minus = f"[{_any(v.minus)}] " if v.minus else ""
    rule("value", (f"{minus}({' | '.join(value)})",))
    unit = rule("unit", v.units)
    amount = f"<value> [{unit}]" if unit else "<value>"
    rule("amount", (f"({amount})+" if v.has_points else amount,))
    before = _optional(rule("filler", v.fillers))
    hedge = _optional(rule("hedge", v.hedges))
    reading = _optional(rule("name", v.names))
    tops = [f"{before} {reading} {before} {hedge} <amount>"]
    if v.names:
        tops.append("<name>")  # a name without a number: asked about
    if v.corrections:
        tops.append(f"{rule('correction', v.corrections)} {reading} <amount>")
    tops.append(rule("command", v.commands))
    look = _optional(rule("look", v.looks))
    tops.append(f"{look} {rule('judgement', v.judgements)}")
    if v.items:
        tops.append(f"{rule('itemlead', v.item_leads)} {rule('item', v.items)}")
    if v.free_leads and v.free:
        tops.append(f"{rule('freelead', v.free_leads)} {rule('free', v.free)}+")
    if v.timer_leads and v.time_units:
        timer = f"{rule('timerlead', v.timer_leads)} {_optional(_any(v.timer_for))}"
        tops.append(f"{timer} <value> {rule('time', v.time_units)}")
    tops.append(rule("query", v.queries))
    if v.query_leads and v.names:
        tops.append(f"{rule('querylead', v.query_leads)} <name>")
    if v.conversion_leads and v.conversion_joins and unit:
        tops.append(f"{rule('convert', v.conversion_leads)} <value> {unit} {_any(v.conversion_joins)} {unit}")
    tops.append(v.hold)
    tops.append(rule("decoy", v.decoys))
    top = " | ".join(" ".join(text.split()) for text in tops if text.strip())
    body = "\n".join(f"<{key}> = {' '.join(text.split())};" for key, text in rules.items())
    return f"#JSGF V1.0;\ngrammar {name};\npublic <utterance> = {top};\n{body}\n"


def _tens(v: Vocabulary) -> str:
    return f"{_any(v.tens)} [<digit>]" if v.tens else ""


def _any(phrases: Iterable[str]) -> str:
    text = " | ".join(phrases)
    return f"({text})" if text else ""


def _optional(text: str) -> str:
    return f"[{text}]" if text else ""


def _joined(*texts: str) -> tuple[str, ...]:
    return tuple(text for text in texts if text)
