"""The codes of the quality notes that readers, cleaning and track write. A code once given keeps its meaning."""

from __future__ import annotations

from typing import Final

__all__ = ["NOTE_CODES"]

NOTE_CODES: Final[dict[str, str]] = {
    # the file
    "file-cut": "the file breaks off or is damaged; what came before was kept",
    "encoding-guessed": "the text is not in the encoding it declares and was read as ISO 8859-1",
    "wrong-crc": "the checksum of a FIT file is wrong; some values may be damaged",
    "crc-missing": "the checksum of a FIT file is missing",
    "length-missing": "the header of a FIT file gives no length; it was read to its end",
    "wrong-checksum": "sentences with a wrong checksum were left out",
    "unreadable-line": "lines that could not be read were left out",
    "trailing-bytes": "bytes after the end of the FIT data were left out",
    "thinned": "more than 20 fixes a second were averaged in runs",
    # time
    "no-time": "fixes without time were dropped",
    "bad-time": "times could not be read",
    "impossible-date": "fixes dated before 1970 or after 2100 were dropped",
    "far-date": "a few fixes dated more than a day from all others were dropped",
    "no-time-zone": "times name no zone and were taken as UTC",
    "system-time": "times count from the start of the device and were set by its UTC stamps",
    "stamps-spread": "several fixes share each time stamp and were spread evenly",
    "reordered": "the fixes did not stand in the order of their times and were sorted",
    "duplicate": "fixes that were already there were dropped",
    "backwards": "fixes whose time goes back or stands still were dropped",
    "clock-shift": "leaps of the receiver's clock while it went on recording were undone",
    "odd-date": "the date may be wrong by a rollover of the week counter (1024 weeks)",
    # place
    "no-position": "fixes without a readable position were dropped",
    "out-of-range": "fixes beyond the range of latitude or longitude were dropped",
    "null-position": "fixes at latitude 0, longitude 0 were dropped",
    "spike": "fixes far off their neighbours were dropped",
    "repeated-position": "repeats of a position were dropped: the log runs faster than the receiver; nothing is lost",
    "frozen": "fixes whose position stands still while the jump moves were dropped",
    # height
    "no-altitude": "the file has no altitude",
    "unreadable-altitude": "altitudes could not be read, for example with a decimal comma",
    "zero-altitude": "altitudes of zero were left out",
    "constant-altitude": "all altitudes are the same and were taken as none",
    "bad-altitude": "altitudes outside any jump were left out",
    "altitude-spike": "altitudes far off their neighbours were left out",
    "altitude-step": "the altitude steps, as a barometer does that is set again",
    "altitude-maybe-feet": "the altitudes may be feet, not metres; they were not changed",
    "ground-level-before": "no rest after the landing; heights are above the take-off place",
    "ground-level-unknown": "no rest at the landing, or at a take-off of the same height; heights are above the lowest fix",
    "ground-levels-differ": "the levels before take-off and after the landing differ by more than 10 m",
    "landing-elevation": "the landing place is another field than the take-off place",
    "elevation-disagrees": "the given elevation differs from the track at rest by more than 10 m",
    # velocity
    "speed-without-course": "recorded speed has no course; velocity is from positions",
    "recorded-speed-incomplete": "recorded speed and course have holes; velocity is from positions",
    "recorded-speed-inconsistent": "recorded speed and course disagree with the positions; velocity is from positions",
    "recorded-speed-coarse": "recorded speed and course are coarser than the positions; velocity is from positions",
}
