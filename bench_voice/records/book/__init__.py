"""The logbook's store: every session of every machine, in SQLite or PostgreSQL, made from journals and never the truth.

A journal is read once, when its session has ended or was left; from then on the logbook answers without it. What stands
here can be thrown away and made again (`fill.rebuild`) with the same content (`content.digest`).
"""
