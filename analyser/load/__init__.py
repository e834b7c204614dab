"""Everyone of one load: who was in it, one clock and one plan for all, who came how near whom, one wind for all."""
