"""A record for other programs: a table (CSV), dates (iCalendar), captions and chapters (WebVTT), JSON."""
