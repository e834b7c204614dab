"""Line numbers of the keys of a TOML text, which the standard parser does not keep."""

from __future__ import annotations

import re
from itertools import accumulate

__all__ = ["key_lines", "line_of", "names_in_key"]

_NAME = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_DOTTED = rf"{_NAME}(?:\s*\.\s*{_NAME})*"
_HEADER = re.compile(rf"^\s*\[(\[?)\s*({_DOTTED})\s*\]")
_KEY = re.compile(rf"^\s*({_DOTTED})\s*=")
_TOKEN = re.compile(r"""\"\"\"|'''|"(?:\\.|[^"\\])*"|'[^']*'|\#.*|[\[\]{}]""")


def names_in_key(line: str) -> int:
    """How many names the dotted key or table header at the begin of a line has; 0 without one."""
    found = _KEY.match(line) or _HEADER.match(line)
    return len(re.findall(_NAME, found[found.lastindex or 1])) if found else 0


def key_lines(text: str) -> dict[str, int]:
    """Path of every key, table header and table above one (``site.direction[0].hand``) → its first line, counted from 1.

    Keys inside inline tables and arrays are not listed; ``line_of`` gives the line where their value begins.
    """
    lines: dict[str, int] = {}
    counts: dict[str, int] = {}
    prefix, depth, fence = "", 0, ""
    for number, line in enumerate(text.split("\n"), 1):
        rest = line
        if not fence and depth == 0:
            if header := _HEADER.match(line):
                prefix = _table(header[2], bool(header[1]), counts)
                lines.setdefault(prefix, number)
                continue
            if key := _KEY.match(line):
                for name in accumulate(_plain(key[1]).split("."), "{}.{}".format):
                    lines.setdefault(".".join(filter(None, (prefix, name))), number)
                rest = line[key.end() :]
        depth, fence = _after(rest, depth, fence)
    return lines


def line_of(lines: dict[str, int], path: str) -> int | None:
    """The line of ``path``, or of the nearest table or key that holds it; None where nothing is known."""
    while path:
        if path in lines:
            return lines[path]
        path = path[: max(path.rfind("."), path.rfind("["), 0)]
    return None


def _plain(dotted: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in re.findall(_NAME, dotted))


def _table(dotted: str, is_array: bool, counts: dict[str, int]) -> str:
    name = _plain(dotted)
    if not is_array:
        return name
    counts[name] = counts.get(name, -1) + 1
    return f"{name}[{counts[name]}]"


def _after(rest: str, depth: int, fence: str) -> tuple[int, str]:
    """Bracket depth and open multi-line string at the end of a line."""
    position = 0
    while position < len(rest):
        if fence:
            end = rest.find(fence, position)
            if end < 0:
                return depth, fence
            position, fence = end + 3, ""
            continue
        token = _TOKEN.search(rest, position)
        if token is None:
            break
        position = token.end()
        if token[0] in ('"""', "'''"):
            fence = token[0]
        elif token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth = max(depth - 1, 0)
    return depth, fence
