"""The register: temporary items fitted, parts removed, parts that must be new, reminders. Closed only by naming."""

from __future__ import annotations

from bench_voice.core import events as ev
from bench_voice.core.cases import OpenedBy, Refusal
from bench_voice.core.events import Events
from bench_voice.core.intents import Asks, ItemChange, ItemKinds, Kind, Question
from bench_voice.core.sheet import ItemKind
from bench_voice.core.state import State

# What a free-named item becomes. "took off the guard" is a part; "fitted tape on the cable" is temporary.
_OPENED_AS = {
    Kind.FITTED: ItemKind.TEMPORARY,
    Kind.TAKEN_OFF: ItemKind.PART,
    Kind.REMOVED: ItemKind.PART,
    Kind.REMINDER: ItemKind.REMINDER,
}
# Which open entries a verb may close.
_CLOSES = {
    Kind.FITTED: {ItemKind.PART, ItemKind.RENEW},
    Kind.TAKEN_OFF: {ItemKind.TEMPORARY},
    Kind.REMOVED: {ItemKind.TEMPORARY},
    Kind.PUT_BACK: {ItemKind.PART},  # what must be new is never put back: it is fitted
    Kind.DONE: {ItemKind.REMINDER},
}
# How what is open is closed, by what it is.
CLOSED_BY: dict[ItemKind, ItemKinds] = {
    ItemKind.TEMPORARY: Kind.TAKEN_OFF,
    ItemKind.PART: Kind.PUT_BACK,
    ItemKind.RENEW: Kind.FITTED,
    ItemKind.REMINDER: Kind.DONE,
}


def _words(text: str) -> frozenset[str]:
    return frozenset(text.lower().split())


def handle_item(state: State, intent: ItemChange) -> Events:
    """A verb and a name ("fitted …", "took off …", "done …"): closes an open entry that fits, else opens one."""
    if not intent.name and not intent.text:
        return (ev.Refused(intent.kind, Refusal.NO_WORDS),)
    return close_item(state, intent) or open_item(state, intent)


def close_item(state: State, intent: ItemChange) -> Events:
    """Closes the entry named, where the verb fits its kind. A shorter name that fits one entry only is asked about."""
    kinds = _CLOSES.get(intent.kind)
    if kinds is None:
        return ()
    fitting = [entry for entry in state.register.values() if entry.kind in kinds]
    for entry in fitting:
        if entry.key == intent.name or (not intent.name and entry.name == intent.text):
            return (ev.ItemClosed(entry.key, intent.heard),)
    if intent.name:
        return ()
    said = _words(intent.text)
    near = [entry for entry in fitting if said <= _words(entry.name) or said > _words(entry.name)]
    if len(near) == 1:
        offered = ItemChange(intent.kind, near[0].key, near[0].name, heard=intent.heard)
        question = Question(Asks.WHICH_NAME, options=(offered,), is_offer=True, heard=intent.heard)
        return (ev.Asked(question),)
    if near:
        options = tuple(ItemChange(intent.kind, e.key, e.name, heard=intent.heard) for e in near)
        return (ev.Asked(Question(Asks.WHICH_NAME, options=options, heard=intent.heard)),)
    return ()


def open_item(state: State, intent: ItemChange) -> Events:
    """A new entry, from the sheet's items or in the person's own words."""
    item = state.sheet.items.get(intent.name) if intent.name else None
    if item and item.kind is ItemKind.RENEW and intent.kind is Kind.PUT_BACK and item.id in state.register:
        return (ev.Refused(intent.kind, Refusal.MUST_BE_NEW, item.name),)
    if item and item.id in state.register:
        return (ev.Refused(intent.kind, Refusal.OPEN_ALREADY, item.id),)
    if intent.kind not in _OPENED_AS:
        return (ev.Refused(intent.kind, Refusal.NOT_OPEN, item.name if item else intent.text),)
    if item:
        # The verb must suit what the sheet says it is: "removed" a tape that is not on changes nothing.
        is_off = intent.kind in (Kind.REMOVED, Kind.TAKEN_OFF)
        is_temporary = item.kind is ItemKind.TEMPORARY
        if is_off == is_temporary:
            return (ev.Refused(intent.kind, Refusal.NOT_OPEN, item.name),)
        return (ev.ItemOpened(item.id, item.name, item.kind, OpenedBy.VOICE, intent.heard),)
    name = intent.text or intent.name or ""
    if any(entry.name == name for entry in state.register.values()):
        return (ev.Refused(intent.kind, Refusal.OPEN_ALREADY, name),)
    kind = _OPENED_AS[intent.kind]
    return (ev.ItemOpened(f"{kind.value}-{state.seq + 1}", name, kind, OpenedBy.VOICE, intent.heard),)
