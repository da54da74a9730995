"""What every part of the builder needs: faults with their place, place holders, references."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

from bench_voice.sheets import models
from bench_voice.sheets.faults import MOST_SHOWN, Fault
from bench_voice.sheets.fields import PLACEHOLDER
from bench_voice.sheets.spread import Env, Places, Spread, spread_of
from bench_voice.sheets.yamltext import Path_, Tree


def closest(word: str, known: Iterable[str]) -> str:
    """`Did you mean "x"?`, or "" where nothing is near."""
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f'Did you mean "{near[0]}"?' if near else ""


class Resolver:
    """Collects faults while names, texts and references of a sheet are filled in."""

    def __init__(self, sheet: models.Sheet, tree: Tree, where: str) -> None:
        self.sheet = sheet
        self.spread: Spread = spread_of(sheet)
        self.places = Places(where, tree)
        self.faults: list[Fault] = []
        self._seen: set[tuple[int, str]] = set()

    def fault(self, path: Path_, what: str, mend: str, slug: str) -> None:
        """Once a line and slug text: a spread entry says its fault once, not once a side."""
        line = self.places.tree.line(path)
        if (line, what) not in self._seen:
            self._seen.add((line, what))
            self.faults.append(Fault(self.places.file, line, self.places.tree.dotted(path), what, mend, slug))

    def _named(self, kind: str, key: str, group: dict[str, Any]) -> list[tuple[str, str, tuple[str, ...], Any, Env]]:
        """Every entry of a group, spread: id, spoken name, other names, model, what the place holders stand for."""
        out: list[tuple[str, str, tuple[str, ...], Any, Env]] = []
        seen: set[str] = set()
        for raw_id, model in group.items():
            path: Path_ = (key, raw_id)
            self._holders(path, raw_id)
            for env in self.spread.environments(raw_id):
                new_id = self.spread.id(raw_id, env)
                if new_id in seen:
                    self.fault(path, f'The id "{new_id}" is there twice.', "Give each its own.", "sheet-id-twice")
                    continue
                seen.add(new_id)
                self.places.of[kind, new_id] = path
                if model.name is None:
                    name = self.spread.text(raw_id, env).replace("-", " ")
                    if any(ch.isdigit() for ch in name):
                        mend = "Give it a `name:` in words: one, two."
                        self.fault(path, f'The name "{name}" holds figures.', mend, "sheet-name")
                else:
                    name = self._fill((*path, "name"), model.name, env)
                also = tuple(self._fill((*path, "also called"), other, env) for other in model.also)
                out.append((new_id, name, also, model, env))
        return out

    def _unfilled(self, path: Path_, node: Any) -> None:
        """Place holders where none is filled in would be read aloud as they stand."""
        if isinstance(node, dict):
            for key, value in node.items():
                if key != "marked on the part":
                    self._unfilled((*path, key), value)
        elif isinstance(node, list):
            for index, value in enumerate(node):
                self._unfilled((*path, index), value)
        elif isinstance(node, str) and (found := PLACEHOLDER.search(node)):
            what = f'"{found.group()}" is not filled in here.'
            mend = "Place holders stand in readings, looks, items and steps; write words here."
            self.fault(path, what, mend, "sheet-spread")

    def _holders(self, path: Path_, text: str) -> None:
        for holder in PLACEHOLDER.findall(text):
            if holder not in self.spread.values:
                known = closest(holder, self.spread.values) or 'Give its values under "for each" at the top.'
                self.fault(path, f'"<{holder}>" stands for nothing.', known, "sheet-spread")

    def _fill(self, path: Path_, text: str, env: Env) -> str:
        filled = self.spread.text(text, env)
        for holder in PLACEHOLDER.findall(filled):
            if holder in self.spread.values:
                mend = f'Put "<{holder}>" into the id as well, or take it out here.'
                self.fault(path, f'"<{holder}>" is not filled in here: the id does not have it.', mend, "sheet-spread")
            else:
                self._holders(path, f"<{holder}>")
        return filled

    def _unknown(self, path: Path_, kind: str, name: str, known: Iterable[str]) -> None:
        for holder in PLACEHOLDER.findall(name):
            self._holders(path, f"<{holder}>")
            return
        plural = {"look": "looks", "step": "steps"}.get(kind, f"{kind}s")
        # Looking through long lists takes long, and no more than MOST_SHOWN are shown.
        near = closest(name, known) if len(self.faults) < MOST_SHOWN else ""
        mend = near or f"Define it under `{plural}`."
        self.fault(path, f'There is no {kind} "{name}".', mend, "sheet-reference")

    def _refs(
        self, path: Path_, key: str, refs: Iterable[str], env: Env, kind: str, known: Iterable[str]
    ) -> tuple[str, ...]:
        known = known if isinstance(known, dict | set) else set(known)
        out = []
        for index, raw in enumerate(refs):
            at: Path_ = (*path, key, index) if (*path, key, index) in self.places.tree.lines else (*path, key)
            for ref in self.spread.references([raw], env):
                if ref in known:
                    out.append(ref)
                else:
                    self._unknown(at, kind, ref, known)
        return tuple(dict.fromkeys(out))
