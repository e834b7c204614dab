"""What the desk's pages say: HTML made here, laid out by the report's own page; no page computes anything."""
