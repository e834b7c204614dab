"""The composer: each stage adds to what is known and changes nothing in place; each jump's track is built once."""

from __future__ import annotations

from dataclasses import fields
from importlib import import_module
from pathlib import Path

import pytest
from jump_made import jump_made

from analyser import placing
from analyser.debrief import STAGES, debrief, debrief_all
from analyser.jump import Debrief
from analyser.settings import Canopy, Settings

SAMPLES = Path(__file__).resolve().parent.parent / "sample_tracks"
composer = import_module("analyser.debrief")  # the package gives the function of that name
DAY = SAMPLES / "two_jumps.gpx"


def test_the_two_verbs_leave_what_they_were_asked_on_as_it_was() -> None:
    first = jump_made()
    more = first.knowing(has_target=True).lacking("winds", "no canopy flight")
    assert (first.has_target, first.reasons) == (False, {})
    assert (more.has_target, more.reasons) == (True, {"winds": "no canopy flight"})
    assert more.lacking("legs", "no wind").reasons == {"winds": "no canopy flight", "legs": "no wind"}


def test_no_stage_takes_back_or_changes_what_is_known() -> None:
    full = debrief(SAMPLES / "first_light.gpx", Settings(canopy=Canopy(airspeed_mps=9.5, sink_mps=3.9)))
    x = Debrief(full.recording, full.track, full.phases, full.settings)
    for stage in STAGES:
        before, reasons = {f.name: getattr(x, f.name) for f in fields(x)}, dict(x.reasons)
        after = stage(x)
        assert x.reasons == reasons, f"{stage.__name__} wrote into the reasons it was given"
        for name, value in before.items():
            if name != "reasons" and value is not None and value != ():
                assert getattr(after, name) is value, f"{stage.__name__} took back {name}"
        assert set(reasons) <= set(after.reasons)
        x = after
    assert x.wind is not None
    assert x.findings


def test_a_jump_of_which_nothing_is_known_passes_every_stage_with_reasons() -> None:
    x = jump_made()
    for stage in STAGES:
        x = stage(x)
    assert {"winds", "legs", "landing", "plan", "budget"} <= set(x.reasons)
    assert x.findings == ()


@pytest.mark.parametrize(("ask", "builds"), [(debrief_all, 2), (debrief, 2)])
def test_the_track_of_each_jump_is_built_once(monkeypatch: pytest.MonkeyPatch, ask, builds: int) -> None:
    built, found = [], []
    for module, name, seen in ((placing, "build_track", built), (composer, "find_phases", found)):
        plain = getattr(module, name)
        monkeypatch.setattr(
            module, name, lambda *a, plain=plain, seen=seen, **k: seen.append(1) or plain(*a, **k)
        )
    ask(DAY)
    assert (len(built), len(found)) == (builds, builds)


def test_a_jump_may_have_settings_of_its_own() -> None:
    wing = Settings(canopy=Canopy(name="Dunlin 210"))
    first, second = debrief_all(DAY, overrides={2: wing})
    assert (first.settings.canopy.name, second.settings.canopy.name) == (None, "Dunlin 210")
    assert (first.jump, second.jump, second.jumps) == (1, 2, 2)
