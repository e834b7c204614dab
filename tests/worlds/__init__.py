"""Made-up jumps that only trials and benchmarks fly: hard patterns, followed plans, the edge of reach, named receivers."""
