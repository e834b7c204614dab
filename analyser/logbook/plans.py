"""Who and what: ``logbook.toml`` and ``logbook.csv`` of the folders -> settings, names and corrections of every track."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Final

from analyser._version import __version__
from analyser.errors import SettingsError
from analyser.importers.source import path_text
from analyser.logbook.jump_columns import Row
from analyser.logbook.scan import walk_folders
from analyser.logbook.table import TABLE_NAME, read_table
from analyser.logbook.talks import Note, note_of
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.pattern import LEG_NAMES
from analyser.settings import Method, Settings
from analyser.settings.areas import area_files
from analyser.settings.picture import picture_files
from analyser.settings.read_keys import Entry, Given, parse_given, read_text
from analyser.settings.toml import build_settings, merge_given, read_given

__all__ = ["FILE_NAME", "Assignment", "Plans", "settings_key"]

FILE_NAME: Final = "logbook.toml"


@dataclass(frozen=True, slots=True)
class Assignment:
    """What holds for one track: its settings, those of single jumps in it, and the names that go into the logbook."""

    settings: Settings
    overrides: tuple[tuple[int, Settings], ...]
    names: Row
    jump_names: Mapping[int, Row]
    key: str

    def who(self, jump: int) -> Row:
        """The columns WHO of one jump."""
        return dict(self.jump_names.get(jump, self.names))


@dataclass(frozen=True, slots=True)
class _Layer:
    """What the files of a folder and of all folders above it say."""

    given: Given
    plan: str | None = None
    note: str | None = None
    cards: Mapping[str, Given] = field(default_factory=dict)
    files: tuple[Path, ...] = ()
    corrections: tuple[tuple[Path, tuple[Given, ...]], ...] = ()
    talks: tuple[Note, ...] = ()


class Plans:
    """Looks up ``logbook.toml`` and ``logbook.csv`` from each track's folder upwards; the nearest wins key by key.

    ``plans`` are plan files that hold for everything, below whatever the folders say; ``drafts`` texts that are tried in
    place of a ``logbook.toml`` before they are written there; ``above`` goes before everything, also before corrections.
    Raises SettingsError.
    """

    def __init__(
        self,
        plans: Sequence[str | os.PathLike[str]] = (),
        *,
        drafts: Mapping[Path, str] | None = None,
        above: Given | None = None,
    ) -> None:
        self._drafts = dict(drafts or {})
        self._above = above or {}
        files = [(Path(p), read_given(Path(p))) for p in plans]
        read = tuple(path for path, _ in files)
        self._top = _Layer(merge_given(given for _, given in files), plan=_plan_names(files), files=read)
        self._layers: dict[Path, _Layer] = {}
        self._indexes: dict[int, _Index] = {}
        self._plain: dict[Path, Assignment] = {}
        self._uncorrected: dict[str, Assignment] = {}
        self._used: set[int] = set()

    def check(self, folders: Sequence[Path]) -> None:
        """Read every ``logbook.toml`` and table at, above and below the folders, so that mistakes come out before the work."""
        for folder in walk_folders(folders):
            self._assignment(folder)

    def files(self) -> Iterator[Path]:
        """Every file read so far, and the plans that corrections name; a file may come twice."""
        yield from self._top.files
        for layer in (self._top, *self._layers.values()):
            yield from picture_files(layer.given)
        for picture in (assignment.settings.site.picture for assignment in self._plain.values()):
            if picture is not None:
                yield Path(picture.file)
        for layer in self._layers.values():
            yield from layer.files
            yield from area_files(layer.given)
            for row in (row for _, rows in layer.corrections for row in rows if "plan" in row):
                entry = row["plan"]
                yield from (Path(entry.file).parent / name for name in entry.value)

    def talks(self) -> Iterator[tuple[Path, tuple[Note, ...]]]:
        """Every ``logbook.toml`` read so far with the talks noted in it."""
        for folder, layer in sorted(self._layers.items()):
            if folder / FILE_NAME in layer.files:
                yield folder / FILE_NAME, layer.talks

    def of_folder(self, folder: Path) -> tuple[Given, tuple[Path, ...]]:
        """What the files at and above a folder give, with the card of the canopy they name, and the paths of these files."""
        layer = self._layer(Path(os.path.abspath(folder)))
        files = tuple(path for path in layer.files if path.name == FILE_NAME)
        return _with_card(layer.given, layer.cards), files

    def columns(self, folder: Path) -> dict[str, str]:
        """Which titles the columns of tables have that are tracks of a folder: key of ``[columns]`` → title."""
        given = self._layer(Path(os.path.abspath(folder))).given
        return {
            key.partition(".")[2]: entry.value for key, entry in given.items() if key.startswith("columns.")
        }

    def ahead(self, folder: Path, plan: Given) -> Settings:
        """What a plan for the next jump says, on top of what holds in a folder but for the pattern and the winds there.

        Raises SettingsError.
        """
        layer = self._layer(Path(os.path.abspath(folder)))
        kept = {
            key: entry
            for key, entry in layer.given.items()
            if key != "wind" and not key.startswith("pattern.")
        }
        return build_settings(_with_card(_joined(kept, [plan]), layer.cards))

    def assign(self, path: Path, sha256: str) -> Assignment:
        """Settings and names of the track at ``path`` whose content is ``sha256``."""
        folder = os.path.dirname(path)
        if folder in self._uncorrected:
            return self._uncorrected[folder]
        layer = self._layer(path.parent)
        index = self._index(layer)
        rows = index.rows(path, sha256)
        if not rows:
            found = self._assignment(path.parent)
            if index.empty:
                self._uncorrected[folder] = found
            return found
        self._used |= {id(row) for row in rows}
        whole = [row for row in rows if "jump" not in row]
        names, settings = _apply(layer, whole, self._above)
        overrides, jump_names = [], {}
        for jump in sorted({row["jump"].value for row in rows if "jump" in row}):
            mine = [row for row in rows if "jump" not in row or row["jump"].value == jump]
            jump_names[jump], own = _apply(layer, mine, self._above)
            if settings_key(own) != settings_key(settings) or _called(own) != _called(settings):
                overrides.append((jump, own))
        return _assignment(settings, tuple(overrides), names, jump_names)

    def by_hand(self, path: Path, sha256: str, jump: int, known: Row) -> Row:
        """The columns WHO of a jump whose folder is gone: as they are known, with what single corrections say of it."""
        who, rows = dict(known), self._index(self._layer(path.parent)).rows(path, sha256)
        self._used |= {id(row) for row in rows}
        for row in (row for row in rows if "jump" not in row or row["jump"].value == jump):
            who |= {name: row[name].value for name in ("jumper", "canopy", "site", "note") if name in row}
            who["excluded"] = row["exclude"].value if "exclude" in row else who["excluded"]
            who["excluded"] = None if "include" in row and row["include"].value else who["excluded"]
        return who

    def unused(self, folders: Sequence[Path]) -> Iterator[str]:
        """Corrections for tracks below ``folders`` that met none, as ``FILE: line N: …``, in the order of their files."""
        tops = [Path(os.path.abspath(folder)) for folder in folders]
        seen: set[int] = set()
        for _, layer in sorted(self._layers.items()):
            for folder, row in ((folder, row) for folder, rows in layer.corrections for row in rows):
                place = _place(folder, row) if "file" in row else folder
                concerned = any(place.is_relative_to(top) for top in tops)
                if concerned and id(row) not in self._used and id(row) not in seen:
                    seen.add(id(row))
                    entry = row.get("file") or row["content"]
                    yield f"{entry.file}: line {entry.line}: no track {entry.shown}"

    def _assignment(self, folder: Path) -> Assignment:
        if folder not in self._plain:
            names, settings = _apply(self._layer(folder), [], self._above)
            self._plain[folder] = _assignment(settings, (), names, {})
        return self._plain[folder]

    def _index(self, layer: _Layer) -> _Index:
        """The index of a layer's corrections; layers without any of their own share that of the folder above."""
        key = id(layer.corrections)
        if key not in self._indexes:
            self._indexes[key] = _Index(layer)
        return self._indexes[key]

    def _layer(self, folder: Path) -> _Layer:
        place, chain = folder, list[Path]()
        while place not in self._layers and (not chain or place != chain[-1]):
            chain.append(place)
            place = place.parent
        layer = self._layers.get(place, self._top)
        for place in reversed(chain):
            layer = self._layers[place] = _read_folder(place, layer, self._drafts)
        return layer


def _assignment(
    settings: Settings, overrides: tuple[tuple[int, Settings], ...], names: Row, jump_names: Mapping[int, Row]
) -> Assignment:
    whole = settings_key(settings)
    others = ((jump, settings_key(own)) for jump, own in overrides)
    parts = [whole, *(f"{jump}:{key}" for jump, key in others if key != whole)]
    key = parts[0] if len(parts) == 1 else hashlib.sha256("\n".join(parts).encode()).hexdigest()
    return Assignment(settings, overrides, names, jump_names, key)


_KEYS: Final[dict[str, str]] = {}


def settings_key(settings: Settings) -> str:
    """A hash of everything in the settings that can change a number in a document, and of this program's version."""
    fields = {f.name: getattr(settings, f.name) for f in dataclasses.fields(settings)}
    del fields["jumper"]
    fields["site"] = dataclasses.replace(settings.site, name=None)
    fields["canopy"] = dataclasses.replace(settings.canopy, name=None)
    fields["method"] = _method_text(settings.method)
    shown = repr(fields)  # pupils of one field differ in their names only
    if shown not in _KEYS:
        text = json.dumps([__version__, fields], sort_keys=True, default=dataclasses.asdict)
        _KEYS[shown] = hashlib.sha256(text.encode()).hexdigest()
    return _KEYS[shown]


def _called(settings: Settings) -> tuple[str | None, ...]:
    """The names in the settings, which change no number."""
    return settings.jumper.name, settings.canopy.name, settings.site.name


@cache
def _method_text(method: Method) -> str:
    return json.dumps(dataclasses.asdict(method), sort_keys=True)


def _read_folder(folder: Path, above: _Layer, drafts: Mapping[Path, str]) -> _Layer:
    toml, table = folder / FILE_NAME, folder / TABLE_NAME
    layer = dataclasses.replace(above, talks=())
    if toml in drafts or os.path.isfile(toml):
        text = drafts[toml] if toml in drafts else read_text(toml)
        layer = _with_toml(folder, parse_given(text, str(toml), LOGBOOK_KEYS), layer)
    if os.path.isfile(table):
        rows = (*layer.corrections, (folder, read_table(table)))
        layer = dataclasses.replace(layer, corrections=rows, files=(*layer.files, table))
    return layer


def _with_toml(folder: Path, given: Given, above: _Layer) -> _Layer:
    own = {name: entry for name, entry in given.items() if "." in name or name == "wind"}
    plans = _files(folder, given.get("plan"))
    cards, card_files = dict(above.cards), _files(folder, given.get("cards"))
    for path, card in card_files:
        if "canopy.name" not in card:
            raise SettingsError("a canopy card without a name", 'give it [canopy] name = "…"', str(path))
        cards[card["canopy.name"].value] = card
    rows = given["jump"].value if "jump" in given else ()
    parts = [*(plan for _, plan in plans), own]
    joined = _joined(above.given, parts)
    for row in rows:
        _check_row(row, given["jump"])
    return _Layer(
        joined,
        _plan_names([*plans, (folder / FILE_NAME, own)]) or above.plan,
        given["note"].value if "note" in given else above.note,
        cards,
        (*above.files, folder / FILE_NAME, *(path for path, _ in (*plans, *card_files))),
        (*above.corrections, (folder, rows)) if rows else above.corrections,
        tuple(
            note_of(row, joined.get("jumper.name"))
            for row in (given["talk"].value if "talk" in given else ())
        ),
    )


def _plan_names(files: Sequence[tuple[Path, Given]]) -> str | None:
    """The files among these that plan a pattern; a field, a canopy or a hand alone is no plan for any height."""
    keys = {"wind", *(f"pattern.{name}" for name in ("preset", *LEG_NAMES))}
    return "; ".join(path_text(path.name) for path, given in files if not keys.isdisjoint(given)) or None


def _check_row(row: Given, table: Entry) -> None:
    if "file" not in row and "content" not in row:
        first = next(iter(row.values()), table)
        first.fail(
            "a [[jump]] that names no track", 'give it file = "…" (or content = "…", the begin of its hash)'
        )
    if "include" in row and "exclude" in row:
        row["include"].fail("a [[jump]] can not be both included and excluded")


def _files(folder: Path, entry: Entry | None) -> list[tuple[Path, Given]]:
    """The plan files an entry names, beside the file that names them."""
    if entry is None:
        return []
    found = []
    for name in entry.value:
        path = folder / name
        if not os.path.isfile(path):
            entry.fail(
                f'{entry.key} names "{name}", which is not there', "paths count from the folder of this file"
            )
        found.append((path, read_given(path)))
    return found


def _joined(given: Given, parts: Sequence[Given]) -> Given:
    """Later parts win key by key; another canopy or site by name brings none of the numbers of the one before."""
    for part in parts:
        for table in ("canopy", "site"):
            name = f"{table}.name"
            if name in part and name in given and part[name].value != given[name].value:
                given = {key: entry for key, entry in given.items() if not key.startswith(f"{table}.")}
        given = merge_given([given, part])
    return given


def _with_card(given: Given, cards: Mapping[str, Given]) -> Given:
    """With the card of the canopy that is named, below what was given."""
    name = given.get("canopy.name")
    card = cards.get(name.value) if name is not None else None
    return given if card is None else merge_given([card, given])


class _Index:
    """Finds the corrections meant for one track among many, in the order they were given."""

    def __init__(self, layer: _Layer) -> None:
        self._by_path: dict[str, list[tuple[int, Given]]] = {}
        self._by_content: list[tuple[int, Given]] = []
        for i, (folder, row) in enumerate((f, row) for f, rows in layer.corrections for row in rows):
            if "file" in row:
                self._by_path.setdefault(str(_place(folder, row)), []).append((i, row))
            if "content" in row and len(row["content"].value) >= 8:
                self._by_content.append((i, row))

    @property
    def empty(self) -> bool:
        return not self._by_path and not self._by_content

    def rows(self, path: Path, sha256: str) -> list[Given]:
        found = dict(self._by_path.get(str(path), ()))
        found |= {i: row for i, row in self._by_content if sha256.startswith(row["content"].value.lower())}
        return [found[i] for i in sorted(found)]


def _place(folder: Path, row: Given) -> Path:
    return Path(os.path.normpath(folder / row["file"].value))


_ROW_KEYS: Final = {
    "jumper": "jumper.name",
    "canopy": "canopy.name",
    "site": "site.name",
    "target": "site.target",
    "hand": "pattern.hand",
    "landing": "pattern.landing",
}


def _apply(layer: _Layer, rows: Sequence[Given], above: Given) -> tuple[Row, Settings]:
    given, plan, note, excluded = layer.given, layer.plan, layer.note, None
    for row in rows:
        entry = row.get("plan")
        plans = _files(Path(entry.file).parent, entry) if entry is not None else []
        own = {target: row[key] for key, target in _ROW_KEYS.items() if key in row}
        given = _joined(given, [*(p for _, p in plans), own])
        plan = _plan_names(plans) or plan
        note = row["note"].value if "note" in row else note
        excluded = row["exclude"].value if "exclude" in row else excluded
        excluded = None if "include" in row and row["include"].value else excluded
    settings = build_settings(_with_card(_joined(given, [above]), layer.cards))
    names = {
        "jumper": settings.jumper.name,
        "canopy": settings.canopy.name,
        "site": settings.site.name,
        "plan": plan,
        "note": note,
        "excluded": excluded,
    }
    return names, settings
