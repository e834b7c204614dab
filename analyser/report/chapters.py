"""The chapters of the page in the order in which a debrief is led: words and numbers of each."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS, Finding
from analyser.importers.recording import Note
from analyser.replay import Advice
from analyser.report.markup import bullets, missing, sentence, table
from analyser.report.page.shell import escape
from analyser.report.wording import Words, degrees, plain_number
from analyser.score import Landing, Standard
from analyser.sentences import fill

__all__ = ["cautions", "change", "gates", "metres", "trust", "went_well"]

GRADES = {
    "good": "The recording is good: nothing in it stands in the way of the numbers below.",
    "usable": "The recording is usable: read the numbers below with the remarks beside them.",
    "poor": "The recording is poor: what could not be known is left out below, and the rest is wide.",
}


def trust(debrief: Debrief, words: Words) -> str:
    """Can the data be trusted? Grade, errors of place and height, gaps, remarks, phases."""
    quality, track = debrief.track.quality, debrief.track
    facts = [
        f"<b>{plain_number(quality.rate_hz, 2 if quality.rate_hz < 1 else 1)} fixes a second</b>, heights {_altitude(quality.altitude)}",
        f"Place good to {words.error('distance', track.position_sd_m)} on each axis, height above the landing area to "
        f"{words.error('height', track.agl_sd_m)}, speed to {words.error('speed', track.velocity_sd)} (each one standard deviation)",
        _wind_coverage(debrief),
    ]
    if quality.gaps:
        longest = max(g.seconds for g in quality.gaps)
        facts.append(
            f"{len(quality.gaps)} gap{'s' if len(quality.gaps) > 1 else ''}, the longest {longest:.0f} s"
        )
    facts += [escape(note.text) for note in _remarks(debrief)]
    rows = [
        (
            escape(p.name),
            plain_number(p.end_s - p.start_s, 0, " s"),
            words.height(p.start_agl_m),
            words.height(p.end_agl_m),
        )
        for p in debrief.phases.intervals
    ]
    phases = (
        table("Phases of the recording", ("phase", "lasts", "from height", "to height"), rows) if rows else ""
    )
    return (
        f'<p class="lead">{GRADES[quality.grade]}</p>{bullets(f for f in facts if f)}{phases}'
        '<p class="quiet">Behind ± stands one standard deviation: two cases in three lie within it, nineteen in '
        "twenty within twice as much.</p>"
    )


def _altitude(source: str) -> str:
    return {"barometric": "from a barometer", "gps": "from the satellites"}.get(source, "of unknown origin")


def _remarks(debrief: Debrief) -> Iterable[Note]:
    seen: set[str] = set()
    for note in (*debrief.track.quality.notes, *debrief.phases.notes):
        if note.text not in seen:
            seen.add(note.text)
            yield note


def _wind_coverage(debrief: Debrief) -> str:
    if debrief.wind is None:
        return f"No winds: {escape(debrief.reasons.get('winds', 'not determined'))}"
    status = debrief.wind.profile.status
    measured, bridged = status.count("measured"), status.count("bridged")
    text = f"Wind measured at {measured} of {len(status)} heights"
    return text + (f", bridged between neighbours at {bridged}" if bridged else "")


def went_well(debrief: Debrief, words: Words) -> str:
    """What went well, as the findings say it."""
    good = [said(f, words) for f in debrief.findings if f.level == "good"]
    if good:
        return bullets(good)
    return missing(
        "the track alone shows nothing that can be said here with confidence; the jumper's own list comes first"
    )


def said(finding: Finding, words: Words) -> str:
    """A finding as a sentence in the page's units."""
    return words.said(partial(fill, finding.text, finding.evidence))


def gates(debrief: Debrief, words: Words) -> str:
    """Plan against flown, gate by gate; the landing; the legs."""
    return (
        _plan_line(debrief) + _gate_table(debrief, words) + _landing(debrief, words) + _legs(debrief, words)
    )


def _plan_line(debrief: Debrief) -> str:
    plan = debrief.plan
    if plan is None:
        return missing(debrief.reasons.get("plan", "no plan could be drawn"))
    wind = "the wind the plan assumes" if plan.winds_from == "plan" else "the wind found in this track"
    preset = debrief.settings.pattern.preset
    heights = f"gate heights {escape(preset)}" if preset else "the gate heights of the plan"
    hand = f"{plan.pattern.hand} hand" if plan.pattern.hand else "no hand"
    landing = (
        f", landing on {degrees(plan.pattern.landing_deg)}" if plan.pattern.landing_deg is not None else ""
    )
    note = f" {sentence(plan.pattern.reason)}" if plan.pattern.reason else ""
    return f"<p>Planned: {heights}, {hand}{landing}, drawn for {wind}.{note}</p>"


def _gate_table(debrief: Debrief, words: Words) -> str:
    if not debrief.comparison:
        return missing(debrief.reasons.get("legs", "")) if debrief.plan is not None else ""
    rows = []
    for row in debrief.comparison:
        flown = words.height(row.flown_agl_m, row.agl_sd_m) if row.flown_agl_m is not None else "not flown"
        rows.append(
            (
                row.gate,
                words.height(row.planned_agl_m),
                flown,
                words.height(row.agl_m, row.agl_sd_m, signed=True),
                words.sides(row.along_m, row.lateral_sd_m, "far", "short"),
                words.sides(row.across_m, row.lateral_sd_m, "right", "left"),
            )
        )
    text = table(
        "Where each turn began",
        ("turn onto", "planned", "flown", "difference", "along", "across"),
        rows,
        stacked=True,
    )
    return (
        text
        + '<p class="quiet">Flown minus planned; places seen along the planned landing direction (far: past the planned place).</p>'
    )


def _landing(debrief: Debrief, words: Words) -> str:
    landing = debrief.landing
    if landing is None:
        return "<h3>The landing</h3>" + missing(debrief.reasons.get("landing", "no landing in the recording"))
    items = []
    if landing.offset_m is None:
        items.append(escape(debrief.reasons.get("target", "no target given")))
    else:
        items.append(
            f"{words.distance(landing.offset_m, landing.offset_sd_m)} from the target: "
            f"{words.sides(landing.along_m, landing.along_sd_m, 'long', 'short')}, "
            f"{words.sides(landing.across_m, landing.across_sd_m, 'right', 'left')}"
        )
        items.append(_standards(landing, words))
    if landing.ground_speed_mps is not None:
        items.append(f"Over the ground before the flare {words.speed(landing.ground_speed_mps)}")
    if landing.sink_before_flare_mps is not None:
        items.append(f"Sinking {words.speed(landing.sink_before_flare_mps)} before the flare")
    items.append(_into_wind(debrief.into_wind_error_deg, debrief.into_wind_error_sd_deg))
    return "<h3>The landing</h3>" + bullets(i for i in items if i)


def _into_wind(turn: float | None, sd: float | None) -> str:
    """How far final pointed off the wind."""
    if turn is None:
        return ""
    error = f" ± {sd:.0f}" if sd is not None else ""
    if abs(turn) < max(1.0, sd or 0.0):
        return "Final into the wind" + (f", give or take {sd:.0f}°" if sd is not None else "")
    return f"Final {abs(turn):.0f}{error}° {'right' if turn > 0 else 'left'} of straight into the wind"


def _standards(landing: Landing, words: Words) -> str:
    """The smallest published ring that is met, and what the position error leaves open."""
    met = sorted((s for s in landing.standards if s.met), key=lambda s: s.radius_m)[:1]
    left = [s for s in landing.standards if s.met is None]

    def named(rows: list[Standard]) -> str:
        return ", ".join(f"{escape(s.name)} ({words.distance(s.radius_m)})" for s in rows)

    if not met and not left:
        return ""
    inside = f"Inside the published ring of {named(met)}. " if met else ""
    doubt = f"The position error leaves open: {named(left)}. " if left else ""
    return f"{inside}{doubt}A witness signs licences, not this page."


def _legs(debrief: Debrief, words: Words) -> str:
    flown = debrief.flown
    if flown is None or not flown.legs:
        reason = debrief.reasons.get("legs") or (flown.reason if flown else "") or "no leg could be named"
        return "<h3>The legs</h3>" + missing(reason)
    rows = [
        (
            leg.name,
            words.height(leg.end_agl_m),
            degrees(leg.heading_deg),
            degrees(leg.track_deg),
            plain_number(leg.crab_deg, 0, "°", signed=True),
            words.speed(leg.ground_speed_mps),
            words.distance(leg.length_m),
            plain_number(leg.end_s - leg.start_s, 0, " s"),
        )
        for leg in flown.legs
    ]
    hand = f", {flown.hand} hand" if flown.hand else ""
    head = ("leg", "ends at", "heading", "track", "crab", "over the ground", "length", "time")
    note = f" {sentence(flown.reason)}" if flown.reason else ""
    text = f"<p>Flown: {flown.kind}{hand} (confidence {flown.confidence:.0%}).{note}</p>"
    return "<h3>The legs</h3>" + text + table("Legs as flown", head, rows)


def metres(debrief: Debrief, words: Words) -> str:
    """Where the metres went: at most three causes in words, then the table that adds up."""
    notes = [said(f, words) for f in debrief.findings if f.level == "note"]
    causes = bullets(notes[:3], "points causes")
    more = bullets(notes[3:])
    if more:
        more = f'<details class="noprint"><summary>Smaller things seen</summary>{more}</details>'
    return causes + _budget(debrief, words) + more


def _budget(debrief: Debrief, words: Words) -> str:
    rows = debrief.budget
    if not rows:
        return missing(
            debrief.reasons.get("budget")
            or debrief.reasons.get("target")
            or "there is no plan and target to count from"
        )
    cells = [
        (
            r.cause,
            words.sides(r.along_m, r.along_sd_m, "long", "short"),
            words.sides(r.across_m, r.across_sd_m, "right", "left"),
        )
        for r in rows
    ]
    total = (
        "landing",
        words.sides(sum(r.along_m for r in rows), None, "long", "short"),
        words.sides(sum(r.across_m for r in rows), None, "right", "left"),
    )
    notes = bullets([*(escape(f"{r.cause}: {r.reason}") for r in rows if r.reason), *_brakes(debrief, words)])
    remark = debrief.reasons.get("budget", "")
    return (
        table(
            "The way from the target to the landing, cause by cause",
            ("cause", "along", "across"),
            cells,
            total=total,
        )
        + notes
        + (f'<p class="quiet">{sentence(remark)}</p>' if remark else "")
        + '<p class="quiet">Each row: the rest of the plan flown again by calculation, in the wind that was there, from where '
        "the jumper was before the leg and after it. The rows add up to the landing.</p>"
    )


def _brakes(debrief: Debrief, words: Words) -> list[str]:
    """How much of the final leg the sink record explains as brakes."""
    brakes = debrief.brakes
    if brakes is None or abs(brakes.along_m) < 2.0 * brakes.along_sd_m:
        return []
    share = f"{brakes.share:.0%}" + (f" ± {brakes.share_sd:.0%}" if brakes.share_sd >= 0.005 else "")
    return [
        f"On final the canopy sank at {share} of its trim; brakes explain "
        f"{words.sides(brakes.along_m, brakes.along_sd_m, 'long', 'short')} of the final leg"
    ]


def change(debrief: Debrief, words: Words) -> str:
    """One thing to change: the first advice; what else would have done it stays folded."""
    if not debrief.advice:
        return missing(
            debrief.reasons.get("advice")
            or debrief.reasons.get("budget")
            or "nothing in the track asks for a change"
        )
    first, rest = debrief.advice[0], debrief.advice[1:]
    more = bullets(_advised(a, words) for a in rest)
    folded = (
        f'<details class="noprint"><summary>What else would have done it</summary>{more}</details>'
        if more
        else ""
    )
    return (
        f'<div class="change"><p>{_advised(first, words)}</p></div>{folded}'
        '<p class="quiet">For the next plan, with clear ground below it and the field\'s rules kept; never for the last seconds of a flight.</p>'
    )


def _advised(advice: Advice, words: Words) -> str:
    text = (
        words.said(partial(fill, advice.template, advice.evidence))
        if advice.template
        else escape(advice.text)
    )
    why = advice.blocked_by if advice.gate is not None else None
    held = None if why is None or why in advice.text else why
    return text + (f" Held back by: {escape(held)}." if held else "")


def cautions(debrief: Debrief, words: Words) -> str:
    """Findings that ask for a talk, then the standing cautions."""
    own = [said(f, words) for f in debrief.findings if f.level == "caution"]
    talk = f"<h3>Worth a talk with the coach</h3>{bullets(own)}" if own else ""
    return talk + "<h3>What these numbers are not</h3>" + bullets(escape(c) for c in CAUTIONS)
