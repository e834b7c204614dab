"""What is said, block by block, as data in SI units; the writers lay it out."""
