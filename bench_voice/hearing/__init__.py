"""From what several ears heard to one decision: record, ask, say again, or nothing. Pure."""
