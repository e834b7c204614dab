"""Made-up jumps with known truth. Shares no code with the estimators; meets them only at ``Recording``."""
