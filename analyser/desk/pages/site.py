"""Field: an aerial picture to lie under the maps, placed by two clicks on places that one knows."""

from __future__ import annotations

from analyser.desk.dress import Dressed, own_page
from analyser.desk.library import Known
from analyser.desk.pages.fields import choices, field, form
from analyser.desk.work import SitePicture, escape

__all__ = ["field_page"]


def field_page(name: str, placed: SitePicture | None, known: Known) -> Dressed:
    """The page; ``name`` the picture to be placed ("" before one was chosen), ``placed`` the one that lies under the maps now."""
    main = (
        '<section class="chapter" aria-labelledby="picture-title"><h2 id="picture-title">An aerial picture</h2>'
        "<p>It lies under the maps of every page made here, turned and scaled by two places that you know for certain, far apart: "
        "corners of a building, ends of a runway.</p>"
        '<p class="field"><label for="picture-file">A PNG or JPEG of the field</label>'
        '<input type="file" id="picture-file" accept="image/png,image/jpeg"></p><p class="line" role="status" id="picture-line"></p>'
    )
    if placed is not None:
        main += form("/field/remove", "<p>A picture lies under the maps.</p>", "Take it away")
    main += "</section>"
    if name:
        main += _placing(name, known)
    return own_page("Field", main, "/field", kicker="Maps, read on the ground")


def _placing(name: str, known: Known) -> str:
    places = [f"{t[0]!r}, {t[1]!r}" for t in known.sites.values() if t is not None]
    inside = "".join(
        f"<fieldset><legend>{word} place</legend>"
        f'<p><label><input type="radio" name="which" value="{i}"{" checked" if i == 1 else ""}> click it in the picture</label></p>'
        + field(f"pixel{i}", "Column, row", hint="filled by the click")
        + field(f"place{i}", "Latitude, longitude", choices="places", hint="decimal degrees")
        + "</fieldset>"
        for i, word in ((1, "First"), (2, "Second"))
    )
    picture = (
        f'<div class="aerial"><img id="aerial" src="/field/picture/{escape(name)}" alt="The picture to be placed">'
        '<span class="spot" id="spot1" hidden>1</span><span class="spot" id="spot2" hidden>2</span></div>'
    )
    return (
        '<section class="chapter" aria-labelledby="placing-title"><h2 id="placing-title">Where it lies</h2>'
        f"{picture}{form('/field/place', inside, 'Lay it under the maps', hidden={'name': name})}"
        f"{choices('places', places)}</section>"
    )
