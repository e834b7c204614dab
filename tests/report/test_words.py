"""How the reports speak: short sentences, plain words."""

from __future__ import annotations

import re

import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump
from sentence_lengths import LONG, ROOT, figures, lines_of_story, of_markdown, sentences

from analyser.report.story.blocks import Remark
from analyser.report.story.jump import tell_jump
from analyser.report.story.two_jumps import tell_two_jumps
from analyser.sentences import Number

USER_PAGES = (
    "README.md",
    *(f"docs/{n}.md" for n in ("first-debrief", "reading-the-page", "plans-and-sites", "season", "limits")),
)
SPECIALIST_PAGES = tuple(f"docs/{n}.md" for n in ("load", "method", "pattern", "robustness", "synthetic"))
# Words that readers stumbled over, as whole words.
BANNED = ("told", "stands out of", "hangs together", "whatever", "nobody can tell", "give or take", "can not")


@pytest.fixture(scope="module")
def told() -> list[str]:
    full, bare = fake_debrief(), bare_debrief()
    stories = [tell_jump(full), tell_jump(bare), tell_jump(no_jump()), tell_two_jumps(full, bare)]
    return list(dict.fromkeys(line for story in stories for line in lines_of_story(story)))


def test_sentences_are_short(told: list[str]) -> None:
    n, middle, long = figures(told)
    assert n > 40
    assert middle < 15
    assert long <= 0.05 * n, [s for s in told if len(s.split()) > LONG]


@pytest.mark.parametrize("name", USER_PAGES + SPECIALIST_PAGES)
def test_sentences_of_the_docs_are_short(name: str) -> None:
    n, middle, long = figures(list(of_markdown((ROOT / name).read_text(encoding="utf-8"))))
    assert n > 8
    assert middle < 15
    assert long <= max(4, 0.12 * n)


def test_words_are_plain(told: list[str]) -> None:
    for words in BANNED:
        assert not [line for line in told if re.search(rf"\b{words}\b", line, re.IGNORECASE)]


def test_what_counts_as_a_sentence() -> None:
    assert list(sentences("One two three. Four five six! No. Done and dusted")) == [
        "One two three.",
        "Four five six!",
        "Done and dusted",
    ]
    page = "# A heading of five words\n\nFirst [link to it](a.md) here.\n\n- An item of five words\n- Two\n\n```sh\nnot read at all\n```\n"
    assert list(of_markdown(page)) == ["First link to it here.", "An item of five words"]


def test_a_turn_that_begins_lower_is_told_as_a_height() -> None:
    """Ready metric texts of an advice, as the desk shows them beside those of before."""
    lower = Remark("Begin the turn onto final at 91 m: 9 m lower than this time.")
    place = Remark("Begin the turn onto base 24 m farther forward, slower by 2 m/s.")
    assert [v.kind for v in lower.pieces() if isinstance(v, Number)] == ["height", "height"]
    assert [v.kind for v in place.pieces() if isinstance(v, Number)] == ["distance", "speed"]
