"""Many jumps: debriefs of whole folders on several processes, and what only many jumps can tell."""
