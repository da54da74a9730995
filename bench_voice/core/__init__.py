"""The rules of a session: pure, standard library only, no clock, files, randomness or threads."""
