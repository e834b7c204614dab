"""Many files on many processes: what has to be debriefed, by whom, and what became of it."""
