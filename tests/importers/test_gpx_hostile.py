"""GPX: one clear error, or what can be saved, from broken and hostile files."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from effort import effort, no_hang
from gpx_cases import HEAD, PLAIN, codes, document, ours, parse, point
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.errors import AnalyserError, FormatError, NoFixesError
from analyser.importers.gpx import read_gpx

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"
SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
# ---- broken and hostile --------------------------------------------------------------------------------------------------


def test_a_cut_document_keeps_the_whole_points_before() -> None:
    text = document(PLAIN)
    for size in range(0, len(text), 13):
        complete = text[:size].count("</trkpt>")
        if complete == 0:
            with pytest.raises((FormatError, NoFixesError)):
                parse(text[:size])
            continue
        raw = parse(text[:size])
        assert len(raw) == complete
        assert codes(raw) == {"file-cut"}


def test_damage_in_the_middle_keeps_what_comes_before() -> None:
    broken = point(20).replace("</trkpt>", "</trkpt")
    raw = parse(document(PLAIN).replace(point(20), broken))
    assert len(raw) == 20
    assert codes(raw) == {"file-cut"}
    raw = parse(document(PLAIN).replace(point(20), point(20) + "<&&>"))
    assert len(raw) == 21
    assert codes(raw) == {"file-cut"}


ENTITIES = '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">%s]>'
BOMB = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
REFUSED = {
    "entity bomb": document(
        PLAIN.replace("<ele>400", "<ele>&e9;"), head=HEAD + ENTITIES % ('<!ENTITY e0 "x">' + BOMB)
    ),
    "quadratic entity": document("&b;" * 99, head=HEAD + ENTITIES % ""),
    "external entity": document(
        PLAIN, head=HEAD + '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    ),
    "external document type": document(PLAIN, head=HEAD + '<!DOCTYPE gpx SYSTEM "http://example.org/x.dtd">'),
    "parameter entity": document(
        PLAIN, head=HEAD + '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "file:///etc/passwd">%p;]>'
    ),
    "deep nesting": document(PLAIN + "<a>" * 300_000),
    "deep nesting in a point": document(point(0, "<extensions>" + "<ele>" * 300_000)),
    "endless attribute": document(f'<trkpt lat="{"4" * 9_000_000}" lon="8"/>'),
    "endless comment": document("<!--" + "a" * 9_000_000),
    "unknown encoding": document(PLAIN).replace("UTF-8", "UTY-8"),
    "multi-byte encoding": document(PLAIN).replace("UTF-8", "Shift_JIS"),
    "another root": "<kml><Document/></kml>",
    "a page": "<!DOCTYPE html><html><body>track</body></html>",
    "broken page": "<html><body><p>track</body></html>",
    "only an XML head": HEAD,
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_one_line(name: str) -> None:
    with no_hang(), pytest.raises(FormatError) as caught:
        parse(REFUSED[name], 1 << 18)
    assert "\n" not in str(caught.value)
    assert "; " in str(caught.value)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        (HEAD + "<gpx/>", "no track point"),
        (HEAD + '<gpx><wpt lat="1" lon="2"/></gpx>', "waypoints or a route"),
        (HEAD + '<gpx><rte><rtept lat="1" lon="2"/></rte></gpx>', "waypoints or a route"),
        (document(""), "no track point"),
    ],
)
def test_a_document_without_track(text: str, match: str) -> None:
    with pytest.raises(NoFixesError, match=match):
        parse(text)


@pytest.mark.parametrize(
    ("begin", "match"),
    [("<gpx ", "megabytes long"), ("<gpx><!--", "megabytes long"), ('<gpx a="', "megabytes long"), ("<gpx><trk><a", "megabytes long")],
)  # fmt: skip
def test_a_line_of_two_gigabytes_is_left_after_some_megabytes(begin: str, match: str) -> None:
    """The line comes from a generator, so that what is taken of it can be counted."""
    taken = 0

    def line() -> Iterator[bytes]:
        nonlocal taken
        yield begin.encode()
        for _ in range(8192):
            taken += 1 << 18
            yield b"a" * (1 << 18)

    with pytest.raises(FormatError, match=match):
        read_gpx(line)
    assert taken < 20_000_000


def test_a_text_of_hundreds_of_megabytes_on_one_line_takes_no_memory() -> None:
    """Character data without end is passed over: 200 MB of it within twenty-five megabytes."""

    def line() -> Iterator[bytes]:
        yield (HEAD + "<gpx><trk><name>").encode()
        for _ in range(800):
            yield b"a" * (1 << 18)
        yield ("</name><trkseg>" + PLAIN + "</trkseg></trk></gpx>").encode()

    tracemalloc.start()
    with no_hang():
        raw = read_gpx(line)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(raw) == 30
    assert peak < 25_000_000


def test_namespaces_and_names_without_end_do_not_hang() -> None:
    """So many that a look at all earlier ones for each would take hours."""
    with no_hang():
        assert len(parse(document(PLAIN.replace("<ele>", f"<!-- {' xmlns' * 500_000} =x --><ele>", 1)))) == 30
        spaces = " ".join(f'xmlns:n{i}="u"' for i in range(200_000))
        assert len(parse(document(PLAIN, namespace=spaces))) == 30
        with pytest.raises(FormatError, match="element names"):
            parse(document(PLAIN + "".join(f"<n{i}/>" for i in range(200_000))))


def test_work_and_memory_grow_with_the_points() -> None:
    """A tenfold file takes about ten times the work, and less than 200 bytes a point beyond the file itself."""
    texts = [document("".join(point(i) for i in range(n))).encode() for n in (2_000, 20_000)]
    (few, little), (many, much) = (effort(lambda text=text: parse(text, 1 << 18)) for text in texts)
    assert many < 15 * few
    assert much - little < 200 * 18_000


# ---- hypothesis ----------------------------------------------------------------------------------------------------------

piece = st.one_of(
    st.sampled_from(
        [
            point(1),
            point(2),
            "<trkpt lat='1' lon='2'>",
            "</trkpt>",
            "<trkseg>",
            "</trkseg>",
            "</trk>",
            "<time>",
            "<ele>1",
            "</ele>",
            "<extensions><speed>",
            "<rtept lat='' lon=''/>",
            "<!--",
            "-->",
            "<![CDATA[",
            "]]>",
            "&amp;",
            "&x;",
            "<?xml?>",
            "<!DOCTYPE a>",
            "\0",
            "<a:b xmlns:a=''>",
            " xmlns:q='r'",
        ]
    ),
    st.text(max_size=8),
)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(piece, max_size=14),
    st.sampled_from([HEAD, "", "\ufeff", HEAD.replace("UTF-8", "latin1")]),
    st.integers(1, 99),
)
def test_only_our_errors_escape(pieces: list[str], head: str, block: int) -> None:
    text = head + "<gpx><trk><trkseg>" + "".join(pieces) + "</trkseg></trk></gpx>"
    try:
        raw = parse(text.encode("utf-8", "surrogatepass"), block)
    except AnalyserError:
        return
    assert len(raw) > 0
    assert not np.any(np.isinf(ours(raw)))
