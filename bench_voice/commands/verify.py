"""`bench-voice verify`: is a journal whole, what that proves, and a signature by the person's own key."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from bench_voice.errors import JournalError, UsageError
from bench_voice.records import signature
from bench_voice.records.kept import kept_sheet
from bench_voice.records.lines import when
from bench_voice.session import journal as jn

NOT_WHOLE = 1
# Fewer characters of a hash can be met by chance.
_SHORTEST_HASH = 8
# What a chain alone says, in words: nobody may take it for a seal.
_CHAIN = (
    "This shows that no line was bent, lost or moved by accident. It does not show who wrote the journal, nor that "
    "nobody rewrote it with new hashes or cut whole decisions off its end. What shows that: the last hash, kept "
    "elsewhere when the session ended (--hash), or a signature (--sign, --signed-by)."
)


def run(args: argparse.Namespace) -> int:
    """Returns the exit code: 0 whole; 1 where it is not, or not the one whose hash was kept or that was signed."""
    path = Path(args.journal)
    kept = _hash(args.hash) if args.hash is not None else ""
    first_ms = 0
    try:
        scan = jn.Scan(path, kept)
        # As a resume and a record read it: a line that does not fit the job is found too.
        for line, _, _ in jn.fold(kept_sheet(scan.header, path), scan, path):
            first_ms = line.at_ms if line is not None and line.seq == 1 else first_ms
    except JournalError as error:
        if error.slug == "journal-unreadable":
            raise
        print(error)
        return NOT_WHOLE
    if scan.torn:
        print(
            f"{path}: its end is torn ({len(scan.torn)} bytes): what was said last was never accepted. "
            f"The rest is whole, {scan.n_events} events, last hash {scan.last_hash}. [journal-torn]"
        )
        return NOT_WHOLE
    if not scan.n_events:
        print(f"{path}: whole, but no session began in it: it has a first line and no event.")
        return 0
    print(f"{path}: whole, {scan.n_events} events, {when(first_ms)} to {when(scan.last_ms)}.")
    print(f"Last hash: {scan.last_hash}")
    if args.sign:
        beside = signature.sign(path, Path(args.sign), scan.whole_bytes)
        print(f"Signed: {beside.name} covers all {scan.n_events} events. It does not cover what is added later.")
    elif not kept and not args.signed_by:
        print(_CHAIN)
    is_kept = not kept or _is_kept(scan)
    is_signed = not args.signed_by or _is_signed(path, Path(args.signed_by), scan)
    return 0 if is_kept and is_signed else NOT_WHOLE


def _hash(text: str) -> str:
    """As it was written down: upper case and spaces do no harm."""
    found = re.sub(r"\s", "", text.lower())
    if not re.fullmatch(rf"[0-9a-f]{{{_SHORTEST_HASH},64}}", found):
        raise UsageError(
            f'"{text[:80]}" is not a hash.',
            mend=f"Give the last hash that was printed, or its first {_SHORTEST_HASH} or more characters (0-9, a-f).",
            slug="hash-shape",
        )
    return found


def _is_kept(scan: jn.Scan) -> bool:
    if scan.kept_at is None:
        print("The hash that you kept is nowhere in it: it was rewritten, or cut off before it. [hash-not-found]")
        return False
    more = scan.n_events - scan.kept_at
    after = f"{more} events were added after it" if more else "it is the last"
    print(f"The hash that you kept is that of event {scan.kept_at}, and {after}: up to there nothing was changed.")
    return True


def _is_signed(path: Path, key: Path, scan: jn.Scan) -> bool:
    """Raises JournalError and UsageError where there is no signature or no key."""
    covered = signature.covered(path, key)
    if covered is None:
        print("The signature does not fit: the journal was changed, or another key signed it. [signature-wrong]")
        return False
    more = scan.whole_bytes - covered
    after = f"all but the last {more} bytes, which were added later" if more else "the whole journal"
    print(f"Signed by this key: {after}. Since then nothing of it was changed. When it was signed is not shown.")
    return True
