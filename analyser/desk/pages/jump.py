"""Jump: the forms above a debrief: target, who and what, plan, beside another jump, downloads."""

from __future__ import annotations

from collections.abc import Iterable

from analyser.desk.library import JumpFacts, Known, Line
from analyser.desk.measures import Measures
from analyser.desk.pages.fields import area, field, fold, form, pick
from analyser.desk.pages.plan import plan_fields
from analyser.desk.pages.start import jump_name, proposals
from analyser.desk.planning import form_of
from analyser.desk.tasks import FILES
from analyser.desk.work import escape

__all__ = ["jump_panel"]

HANDS = {"as flown": "as flown", "left": "left", "right": "right"}


def jump_panel(
    facts: JumpFacts, known: Known, others: Iterable[Line], mark: str, changed: str, measures: Measures
) -> str:
    """Ready HTML above the debrief; ``changed`` what the last save changed, "" for none."""
    parts = [
        f'<div class="changed">{changed}</div>' if changed else "",
        _day(facts),
    ]
    has_target = facts.settings.site.target is not None
    hidden: dict[str, object] = {"seen": mark}
    base = f"/jump/{facts.id}"
    parts.append(
        fold("Target", _target(facts, known, base, hidden), opened=not has_target, name="desk-target")
    )
    parts.append(fold("Who and what", _who(facts, base, hidden), name="desk-who"))
    parts.append(fold("Plan", _plan(facts, base, hidden, measures), name="desk-plan"))
    parts.append(fold("Beside another jump", _beside(facts, others), name="desk-beside"))
    links = "".join(
        f'<li><a href="{base}/file/{kind}" download>{escape(one.title)}</a></li>'
        for kind, one in FILES.items()
    )
    parts.append(fold("Download", f'<ul class="plain">{links}</ul>', name="desk-files"))
    return area("Corrections and files", "".join(parts) + proposals(known))


def _day(facts: JumpFacts) -> str:
    if len(facts.numbers) < 2:
        return ""
    links = "".join(
        f'<li><a href="/jump/{facts.id.sha256}-{n}"{" aria-current=page" if n == facts.id.jump else ""}>jump {n}</a></li>'
        for n in facts.numbers
    )
    return (
        f'<nav aria-label="Jumps of this file"><ul class="plain"><li>This file holds</li>{links}</ul></nav>'
    )


def _target(facts: JumpFacts, known: Known, base: str, hidden: dict[str, object]) -> str:
    target = facts.settings.site.target
    shown = "" if target is None else f"{target[0]:.7g}, {target[1]:.8g}"
    fields = {"": "–"} | {f"{t[0]!r},{t[1]!r}": name for name, t in known.sites.items() if t is not None}
    inside = '<p><button type="button" id="pick-target" aria-pressed="false">Click the target on the plan view</button></p>'
    inside += field("target", "Latitude, longitude", shown, hint="decimal degrees, north and east positive")
    inside += pick("from_site", "or that of a field", fields)
    frame = facts.document.get("frame") or {}
    origin = f"{frame.get('origin_lat')},{frame.get('origin_lon')}"
    return form(
        f"{base}/target", inside, "Use this target", hidden=hidden | {"origin": origin, "clicked": ""}
    )


def _who(facts: JumpFacts, base: str, hidden: dict[str, object]) -> str:
    who = facts.who
    inside = field("jumper", "Jumper", who["jumper"], choices="jumpers")
    inside += field("canopy", "Canopy", who["canopy"], choices="canopies")
    inside += field("site", "Field", who["site"], choices="sites")
    inside += field("note", "Note", who["note"])
    inside += field(
        "exclude", "Leave out of the statistics, because", who["excluded"], hint="empty: it counts"
    )
    return form(f"{base}/who", inside, "Save", hidden=hidden)


def _plan(facts: JumpFacts, base: str, hidden: dict[str, object], measures: Measures) -> str:
    shown = form_of(facts.settings, measures)
    inside = plan_fields(shown, measures, facts.settings)
    inside += pick("hand", "Hand of the pattern", HANDS, shown.hand)
    hidden = hidden | {"units": measures.units}
    return form(f"{base}/plan", inside, "Debrief with this plan", hidden=hidden)


def _beside(facts: JumpFacts, others: Iterable[Line]) -> str:
    options = {str(line.id): jump_name(line) for line in others if line.id != facts.id}
    if not options:
        return "<p>There is no other jump yet.</p>"
    return (
        f'<form class="desk-form" data-go="/beside/{facts.id}/">{pick("other", "Jump", options)}'
        '<p class="send"><button type="submit">Lay beside</button></p></form>'
    )
