"""Season -> the JSON document of schema ``crabline.season/1`` (SI units, UTC, ``null`` where there is no value)."""

from __future__ import annotations

from typing import Final

from analyser._version import __version__
from analyser.report.documents.values import Json, number, utc
from analyser.season.facts import Count, Facts, Latest, Trend
from analyser.season.figures import Accuracy, Band, Currency, GateFigures, Share, TrimFigures, TurnHeight
from analyser.season.loads import LoadsAgreement
from analyser.season.pooling import Pooled
from analyser.season.questions import Question
from analyser.season.robust import Level
from analyser.season.summarise import GroupSeason, JumperSeason, Season
from analyser.season.words import METHOD, METHOD_VALUES, say
from analyser.sentences import fill
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["SCHEMA_NAME", "to_season_document"]

SCHEMA_NAME: Final = "crabline.season/1"


def to_season_document(season: Season, *, private: bool = False) -> Json:
    """Every number of a season. ``private`` numbers the jumpers and leaves out names, dates, places and files."""
    document: Json = {
        "schema": SCHEMA_NAME,
        "version": __version__,
        "jumps": season.jumps,
        "method": fill(METHOD, METHOD_VALUES),
        "alpha": season.alpha,
        "false_share": season.false_share,
        "questions_asked": season.questions_asked,
        "jumpers": [
            _jumper(j, f"jumper {i}" if private else j.name, private) for i, j in enumerate(season.jumpers, 1)
        ],
        "loads": _loads(season.loads),
        "failures": len(season.failures)
        if private
        else [{"file": f.path, "reason": f.reason} for f in season.failures],
    }
    return document


def _jumper(jumper: JumperSeason, name: str | None, private: bool) -> Json:
    names = {g.canopy: f"canopy {i}" for i, g in enumerate(jumper.groups, 1)} if private else {}
    return {
        "jumper": name,
        "currency": _currency(jumper.currency, private),
        "left_out": [{"reason": row.reason, "jumps": row.count} for row in jumper.left_out],
        "said": [_question(q, private) for q in jumper.claims],
        "watched": [_question(q, private) for q in jumper.watched],
        "questions": [_question(q, private) for q in jumper.questions],
        "canopies": [_group(g, names.get(g.canopy, g.canopy), private) for g in jumper.groups],
        "counted": _facts(jumper.facts),
        "latest": _latest(jumper.latest, private),
        "trend": _trend(jumper.trend),
    }


def _loads(found: LoadsAgreement | None) -> Json | None:
    if found is None:
        return None
    return {
        "loads": found.loads,
        "jumps": found.jumps,
        "pairs": found.pairs,
        "within": found.within,
        "share": number(found.share, 3),
    }


def _facts(found: Facts | None) -> Json | None:
    if found is None:
        return None
    return {
        "jumps": found.n,
        "with_target": found.n_target,
        "middle_offset_m": number(found.r50_m),
        "well": [_count(c) for c in found.well],
        "cautions": [_count(c) for c in found.cautions],
    }


def _count(found: Count) -> Json:
    return {"counted": found.name, "met": found.hits, "of": found.of, "left_open": found.left_open}


def _latest(found: Latest | None, private: bool) -> Json | None:
    if found is None:
        return None
    row: Json = {} if private else {"utc": utc(found.t_s)}
    return row | {
        "along_m": number(found.along_m),
        "across_m": number(found.across_m),
        "offset_m": number(found.offset_m),
        "offset_sd_m": number(found.offset_sd_m),
        "turns": [
            {"gate": gate, "agl_m": number(off), "agl_sd_m": number(sd)} for gate, off, sd in found.turns
        ],
        "well": list(found.well),
        "cautions": list(found.cautions),
        "cautions_open": list(found.cautions_open),
    }


def _trend(found: Trend | None) -> Json | None:
    if found is None:
        return None
    return {
        "jumps": found.n,
        "middle_offset_m": number(found.latest_m),
        "middle_offset_before_m": number(found.before_m),
    }


def _currency(found: Currency | None, private: bool) -> Json | None:
    if found is None:
        return None
    row: Json = {"jumps": found.n, "longest_gap_days": number(found.longest_gap_days, 1)}
    if private:
        return row | {"jumps_per_month": list(found.per_month.values())}
    return row | {
        "first_utc": utc(found.first_s),
        "last_utc": utc(found.last_s),
        "longest_gap_from_utc": utc(found.gap_from_s),
        "jumps_per_month": found.per_month,
    }


def _question(question: Question, private: bool) -> Json:
    hidden = {"since_s", "site", "first", "second"} if private else {"since_s"}
    evidence: Json = {
        k: number(v, 3) if isinstance(v, float) else v
        for k, v in question.evidence.items()
        if k not in hidden
    }
    if "since_s" in question.evidence and not private:
        evidence["since_utc"] = utc(float(question.evidence["since_s"]))
    return {
        "question": question.code,
        "canopy": None if private else question.canopy,
        "jumps": question.n,
        "value": number(question.value, 3),
        "low_95": number(question.low, 3),
        "high_95": number(question.high, 3),
        "margin": number(question.margin, 3),
        "p": number(question.p, 8),
        "p_holm": number(question.p_holm, 8),
        "said": question.claimed,
        "p_bh": number(question.p_bh, 8),
        "watched": question.watched,
        "text": say(question, DISPLAY_SYSTEMS["metric"], dates=not private)
        if question.claimed or question.watched
        else None,
        "evidence": evidence,
    }


def _group(group: GroupSeason, name: str | None, private: bool) -> Json:
    return {
        "canopy": name,
        "part": group.part,
        "jumps": group.n,
        "first_utc": None if private else utc(group.first_s),
        "last_utc": None if private else utc(group.last_s),
        "accuracy": _accuracy(group.accuracy),
        "accuracy_reason": _no_accuracy(group),
        "bias_along_shrunk": group.shrunk
        and {"value_m": number(group.shrunk[0]), "sd_m": number(group.shrunk[1])},
        "conditions": {
            name: [
                _band(band, f"site {i}" if private and name == "site" else band.name)
                for i, band in enumerate(bands, 1)
            ]
            for name, bands in group.conditions.items()
        },
        "gates": [_gate(g) for g in group.gates],
        "causes": [_share(s) for s in group.causes],
        "turn_height": _turn_height(group.turn_height),
        "trim": _trim(group.trim),
    }


def _no_accuracy(group: GroupSeason) -> str | None:
    if group.mixed:
        return "the trims are those of several canopies"
    return None if group.accuracy else "fewer than ten jumps with a target"


def _level(found: Level | None) -> Json | None:
    if found is None:
        return None
    low, high = found.interval()
    return {
        "value_m": number(found.value),
        "sd_m": number(found.se),
        "low_95_m": number(low),
        "high_95_m": number(high),
        "jumps": found.n,
    }


def _radius(found: tuple[float, float, float] | None) -> Json | None:
    return found and {
        "value_m": number(found[0]),
        "low_95_m": number(found[1]),
        "high_95_m": number(found[2]),
    }


def _accuracy(found: Accuracy | None) -> Json | None:
    if found is None:
        return None
    return {
        "jumps": found.n,
        "along": _level(found.along),
        "across": _level(found.across),
        "along_spread_m": number(found.along_sd),
        "across_spread_m": number(found.across_sd),
        "correlation": number(found.correlation, 3),
        "r50": _radius(found.r50),
        "r95": _radius(found.r95),
        "own_centre_r50": _radius(found.own_r50),
        "within": [
            {
                "radius_m": ring,
                "share": number(s[0], 3),
                "low_95": number(s[1], 3),
                "high_95": number(s[2], 3),
            }
            for ring, s in found.shares.items()
        ],
    }


def _band(band: Band, name: str) -> Json:
    return {
        "name": name,
        "from_mps": number(band.low, 3),
        "to_mps": number(band.high, 3),
        "jumps": band.n,
        "along": _level(band.along),
        "across": _level(band.across),
        "along_spread_m": number(band.along_sd),
    }


def _gate(found: GateFigures) -> Json:
    return {
        "gate": found.gate,
        "jumps": found.n,
        "planned_agl_m": number(found.planned_m),
        "error": _level(found.error),
        "spread_m": number(found.spread),
        "measured_sd_m": number(found.measured_sd),
    }


def _share(found: Share) -> Json:
    return {
        "cause": found.cause,
        "part": number(found.part, 3),
        "low_95": number(found.low, 3),
        "high_95": number(found.high, 3),
        "along": _level(found.along),
        "across": _level(found.across),
    }


def _turn_height(found: TurnHeight | None) -> Json | None:
    if found is None:
        return None
    low, high = found.fitted.slope.interval()
    return {
        "jumps": found.n,
        "fitted_m_per_m": number(found.fitted.slope.value, 3),
        "fitted_low_95": number(low, 3),
        "fitted_high_95": number(high, 3),
        "predicted_m_per_m": number(found.predicted, 3),
        "predicted_spread": number(found.predicted_sd, 3),
        "reliability": number(found.reliability, 3),
    }


def _pooled(found: Pooled) -> Json:
    return {
        "mean_mps": number(found.mean, 3),
        "sd_mean_mps": number(found.se, 3),
        "sd_single_mps": number(found.single_sd, 3),
        "jumps": found.n,
    }


def _trim(found: TrimFigures | None) -> Json | None:
    if found is None:
        return None
    return {
        "airspeed": _pooled(found.airspeed),
        "sink": _pooled(found.sink),
        "glide": number(found.glide, 3),
        "wing_loading_lb_ft2": number(found.wing_loading, 3),
    }
