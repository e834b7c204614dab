"""What only many jumps can tell: levels, habits, accuracy, trim; statistics only, no files and no pages."""
