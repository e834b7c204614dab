"""Stories as HTML pages that hold everything they need."""
