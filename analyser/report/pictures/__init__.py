"""The pictures of a report as plain dicts in SI units, with the look they share."""
