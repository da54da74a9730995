"""What people keep of a finished journal: page, table, calendar, captions, logbook."""
