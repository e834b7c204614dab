"""Corrections: what the desk's forms say of a jump, written into ``logbook.toml`` with everything else in it kept."""

from __future__ import annotations

import hashlib
import threading
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

from analyser.desk.folder import DeskFolder
from analyser.desk.work import Plans, SettingsError, write_text

__all__ = ["KEYS", "Change", "Changed", "Corrections", "JumpId", "seen_mark"]

KEYS: Final = ("jumper", "canopy", "site", "target", "exclude", "note")
SHOWN_DIGITS: Final = 16


class JumpId(NamedTuple):
    """A jump by what it is: hash of its file and its number there (0: a file that holds no jump)."""

    sha256: str
    jump: int

    def __str__(self) -> str:
        return f"{self.sha256}-{self.jump}"


class Change(NamedTuple):
    """New values of some KEYS for one jump, None or "" to take a value back; ``plan`` the text of its own plan file, "" for none.

    ``track`` is where the file lies; ``seen`` the mark of what the form showed: another mark means that somebody else saved.
    """

    jump: JumpId
    track: Path
    values: Mapping[str, Any]
    plan: str | None = None
    seen: str | None = None


class Changed(SettingsError):
    """What a form showed was changed meanwhile, by another tab or by hand."""


class Corrections:
    """Reads and writes the corrections of a folder; saves one after the other, each whole or not at all."""

    def __init__(self, folder: DeskFolder) -> None:
        self._folder = folder
        self._lock = threading.Lock()

    def own(self, jump: JumpId) -> dict[str, Any]:
        """What ``logbook.toml`` says of this very jump, and "own plan": the text of the desk's plan file for it."""
        row = _find(self._values(), jump)
        found = {} if row is None else dict(row)
        name = _own_plan(found)
        if name:
            found["own plan"] = self._plan_text(name)
        return found

    def mark(self, jump: JumpId) -> str:
        """The mark of what stands there now."""
        return seen_mark(self.own(jump))

    def _plan_text(self, name: str) -> str:
        try:
            return (self._folder.path / name).read_text(encoding="utf-8")
        except OSError:
            return ""

    def _text(self) -> str:
        path = self._folder.settings
        return path.read_bytes().decode("utf-8-sig") if path.is_file() else ""

    def _values(self) -> Any:
        """The file read fast, without its comments."""
        try:
            return tomllib.loads(self._text())
        except ValueError as error:
            raise self._no_toml(error) from None

    def _document(self) -> Any:
        """The file with its comments and its order."""
        import tomlkit
        from tomlkit.exceptions import TOMLKitError

        try:
            return tomlkit.parse(self._text())
        except (TOMLKitError, ValueError) as error:
            raise self._no_toml(error) from None

    def _no_toml(self, error: Exception) -> SettingsError:
        return SettingsError(f"not valid TOML: {error}", "mend it by hand", str(self._folder.settings))

    def save(self, changes: Sequence[Change]) -> None:
        """Write all of the changes, or none. Raises SettingsError with the reader's own message, Changed, or OutputError."""
        with self._lock:
            document = self._document()
            made: list[Path] = []
            dropped: list[Path] = []
            try:
                for change in changes:
                    self._apply(document, change, made, dropped)
                text = document.as_string()
                self._try(text, changes)
                write_text(self._folder.settings, text)
            except BaseException:
                for path in made:
                    path.unlink(missing_ok=True)
                raise
            for path in dropped:
                path.unlink(missing_ok=True)

    def save_picture(
        self, name: str, points: Sequence[tuple[tuple[float, float], tuple[float, float]]]
    ) -> None:
        """Lay the picture ``name`` under the maps of the folder by two points (pixel, place); "" takes it away."""
        import tomlkit

        with self._lock:
            document = self._document()
            site = document.setdefault("site", tomlkit.table())
            site.pop("picture", None)
            if name:
                table, rows = tomlkit.table(), tomlkit.aot()
                table["file"] = name
                for pixel, place in points:
                    row = tomlkit.table()
                    row["pixel"], row["place"] = list(pixel), list(place)
                    rows.append(row)
                table["point"] = rows
                site["picture"] = table
            elif not site:
                document.pop("site")
            text = document.as_string()
            plans = Plans(drafts={self._folder.settings: text})
            plans.assign(self._folder.path / "track", "0" * 64)
            write_text(self._folder.settings, text)

    def _apply(self, document: Any, change: Change, made: list[Path], dropped: list[Path]) -> None:
        import tomlkit

        row = _find(document, change.jump)
        if change.seen is not None and change.seen != self.mark(change.jump):
            raise Changed(
                "this jump was changed meanwhile, in another tab or by hand",
                "load the page again; nothing was saved",
            )
        if row is None:
            row = tomlkit.table()
            row["content"] = change.jump.sha256[:SHOWN_DIGITS]
            if change.jump.jump:
                row["jump"] = change.jump.jump
            document.setdefault("jump", tomlkit.aot()).append(row)
            row = document["jump"][-1]
        for key, value in change.values.items():
            _put(row, key, value)
        if change.plan is not None:
            self._put_plan(row, change, made, dropped)
        self._take_back_exclusion(document, change, row)
        _drop_empty(document, row)

    def _put_plan(self, row: Any, change: Change, made: list[Path], dropped: list[Path]) -> None:
        """The desk's own plan of a jump, under a new name each time: what stands is not touched before all is written."""
        listed = row.get("plan", [])
        names = [str(n) for n in ([listed] if isinstance(listed, str) else listed)]
        old = _own_plan({"plan": names})
        names = [n for n in names if n != old]
        if change.plan:
            digest = hashlib.sha256(change.plan.encode()).hexdigest()[:8]
            name = f"plans/{change.jump.sha256[:12]}-{change.jump.jump}-{digest}.toml"
            names.append(name)
            path = self._folder.path / name
            if name != old:
                path.parent.mkdir(mode=0o700, exist_ok=True)
                write_text(path, change.plan)
                made.append(path)
        if old and old not in names:
            dropped.append(self._folder.path / old)
        _put(row, "plan", names or None)

    def _take_back_exclusion(self, document: Any, change: Change, row: Any) -> None:
        """A jump that a file above or a table leaves out needs more than the absence of a word to be taken back in."""
        if "exclude" not in change.values:
            return
        row.pop("include", None)
        if change.values["exclude"]:
            return
        plans = Plans(drafts={self._folder.settings: document.as_string()})
        if plans.assign(change.track, change.jump.sha256).who(change.jump.jump)["excluded"]:
            row["include"] = True

    def _try(self, text: str, changes: Sequence[Change]) -> None:
        """Read the draft as the logbook will; its mistakes are told in the reader's words."""
        plans = Plans(drafts={self._folder.settings: text})
        for change in changes:
            plans.assign(change.track, change.jump.sha256)


def seen_mark(own: Mapping[str, Any]) -> str:
    """A short mark of what is said of a jump."""
    return hashlib.sha256(repr(sorted(own.items())).encode()).hexdigest()[:16]


def _find(document: Any, jump: JumpId) -> Any:
    """The last row that names this content (by eight digits or more) and this jump; None where there is none."""
    found = None
    for row in document.get("jump", ()):
        content = str(row.get("content", "")).lower()
        number = row.get("jump", 0)
        if len(content) >= 8 and jump.sha256.startswith(content) and number == jump.jump:
            found = row
    return found


def _own_plan(row: Mapping[str, Any]) -> str:
    """The name of the desk's plan file in a row; "" without one."""
    listed = row.get("plan", [])
    names = [listed] if isinstance(listed, str) else list(listed)
    return next((str(n) for n in names if str(n).startswith("plans/")), "")


def _put(row: Any, key: str, value: Any) -> None:
    if value is None or value in ("", []):
        row.pop(key, None)
    elif row.get(key) != value:
        row[key] = list(value) if isinstance(value, tuple) else value


def _drop_empty(document: Any, row: Any) -> None:
    """A row that says nothing is taken out again."""
    if not set(row) - {"content", "file", "jump"}:
        rows = document["jump"]
        rows.remove(row)
        if not rows:
            document.pop("jump")
