"""One person working through one job sheet: owner of the state, listener, journal."""
