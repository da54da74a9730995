"""The journal: a session's append-only file, one JSON object a line, and the only truth.

Line 0 is the header with the sheet's whole text and hash; then one line an event. Each line carries the hash of the
line before (`prev`) and its own (`hash`, SHA-256 over the canonical JSON of the rest). A decision's events are written
at once, flushed and fsynced before anything is applied or spoken; `more` on a line says how many of its decision still
follow. A session begins with its first decision, which is written together with the header: a header alone is nothing.

Reading gives one of four answers. Whole. Torn: the process ended while it wrote, so the last line has no newline or
the last decision lacks events; that was never accepted, and is set aside and told. Damaged: a line is not what was
written, and where. Foreign: the lines are whole, but another version wrote what stands in them, or another program.
"""

from bench_voice.session.journal.fits import Fit
from bench_voice.session.journal.folder import find_open, new_name, newest_first, session_files, session_stem, slug
from bench_voice.session.journal.lines import FORMAT, Line, decode, encode, sealed, sheet_hash
from bench_voice.session.journal.lock import SessionLock
from bench_voice.session.journal.reading import JournalFile, Scan, as_foreign, fold, foreign, open_regular, read, replay
from bench_voice.session.journal.writing import JournalWriter

__all__ = [
    "FORMAT", "Fit", "JournalFile", "JournalWriter", "Line", "Scan", "SessionLock", "as_foreign", "decode", "encode",
    "find_open", "fold", "foreign", "new_name", "newest_first", "open_regular", "read", "replay", "sealed",
    "session_files", "session_stem", "sheet_hash", "slug",
]  # fmt: skip
