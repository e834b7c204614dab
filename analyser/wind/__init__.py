"""Layer winds recovered from the canopy flight."""
