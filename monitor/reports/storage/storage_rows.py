"""Quality of storage for machines: JSON, and CSV with a row a space and season, in SI and UTC."""

import csv
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from io import StringIO
from statistics import median
from typing import Any

from monitor.physics.wetness import WET_HUMIDITY_PCT
from monitor.reports.skill import Skill, skill_json
from monitor.reports.storage.figures import (
    AnswersInTime,
    CraftSaved,
    SpaceStorage,
    StorageFigures,
    StorageHours,
    StorageNight,
    StorageQuality,
)
from monitor.units import json_number
from monitor.yard.space import SpaceKind

FORM = 1
COLUMNS = (
    "yard", "season", "from", "to", "space", "name", "kind", "low_limit_c", "craft", "craft_h",
    "of_h", "air_heard_h", "heard_h", "warm_enough_h", "dry_enough_h", "inside_h", "too_cold_h",
    "too_damp_h", "share_inside", "few", "low_c", "frost_k_h", "nights", "nights_unheard",
    "skill_nights", "low_error_k", "low_crps_skill_over_climate",
    "below_zero_brier_skill_over_climate", "sensors_of_h", "sensors_heard_h", "answers_due",
    "answers_in_time", "answers_late", "unanswered", "answered_median_s", "frost_alarmed",
    "made_safe", "saved", "saved_not_known", "iced",
)  # fmt: skip
WHOLE = "*"  # in place of a space, which is never called so: the whole yard


def storage_json(figures: StorageFigures, earlier: Sequence[StorageFigures] = ()) -> dict[str, Any]:
    """One season in SI, the unit in the key; null is not known.

    Parameters
    ----------
    figures : StorageFigures
    earlier : sequence of StorageFigures
        Seasons before, the newest first; of each only the whole yard and its spaces' hours matter
        to a reader, and all of it is there.
    """
    body = _season_json(figures)
    if earlier:
        body["earlier"] = [_season_json(one) for one in earlier]
    return {"laidup_storage": FORM, **body}


def storage_csv(several: Iterable[StorageFigures]) -> str:
    """A row for each space of each season and one for the whole yard; several files can be joined.

    What is not known is empty.
    """
    out = StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for figures in several:
        for space in figures.spaces:
            writer.writerow(_row(figures, space))
        writer.writerow(_row(figures, figures.whole))
    return out.getvalue()


def _season_json(figures: StorageFigures) -> dict[str, Any]:
    return {
        "yard": {"id": figures.yard, "name": figures.yard_name},
        "season": figures.season,
        "from": _time(figures.since),
        "to": _time(figures.until),
        "made_at": _time(figures.made_at),
        "program": figures.program,
        "whole": _quality_json(figures.whole),
        "spaces": [_space_json(one) for one in figures.spaces],
    }


def _space_json(space: SpaceStorage) -> dict[str, Any]:
    return {
        "space": space.space,
        "name": space.name,
        "kind": str(space.kind),
        "limits": {
            "low_c": space.limits.low_c,
            "wet_above_pct": WET_HUMIDITY_PCT if space.limits.has_damp_limit else None,
        },
        **_quality_json(space),
        "low_c": space.low_c,
        "low_at": _time(space.low_at),
        "frost_k_h": space.frost_kh,
        "nights": space.nights,
        "nights_unheard": space.nights_unheard,
        "worst_nights": [_night_json(one) for one in space.worst],
    }


def _night_json(night: StorageNight) -> dict[str, Any]:
    return {
        "evening": night.evening.isoformat(),
        "of_h": night.of_h,
        "heard_h": night.heard_h,
        "too_cold_h": night.too_cold_h,
        "too_damp_h": night.too_damp_h,
        "low_c": night.low_c,
        "expected_c": night.expected_c,
        "craft": night.craft,
    }


def _quality_json(quality: StorageQuality) -> dict[str, Any]:
    return {
        "hours": _hours_json(quality.hours),
        "forecasts": None if quality.skill is None else skill_json(quality.skill),
        "sensors": [
            {
                "sensor": one.sensor,
                "mount": str(one.mount),
                "of_h": one.of_h,
                "heard_h": one.heard_h,
            }
            for one in quality.sensors
        ],
        "answers": _answers_json(quality.answers),
        "craft_saved": _saved_json(quality.saved),
    }


def _hours_json(hours: StorageHours) -> dict[str, Any]:
    share = hours.share_of(hours.inside_h)
    return {
        "craft": hours.craft,
        "craft_h": hours.craft_h,
        "span_h": hours.span_h,
        "of_h": hours.of_h,
        "air_heard_h": hours.air_heard_h,
        "heard_h": hours.heard_h,
        "warm_enough_h": hours.warm_enough_h,
        "dry_enough_h": hours.dry_enough_h,
        "inside_h": hours.inside_h,
        "too_cold_h": hours.too_cold_h,
        "too_damp_h": hours.too_damp_h,
        "share_inside": None if share is None else round(share, 4),
        "few": hours.is_few,
    }


def _answers_json(answers: AnswersInTime) -> dict[str, Any]:
    return {
        "due": answers.due,
        "in_time": answers.in_time,
        "late": answers.late,
        "unanswered": answers.unanswered,
        "over_before_due": answers.over_before_due,
        "open_before_due": answers.open_before_due,
        "answered_median_s": median(answers.waited_s) if answers.waited_s else None,
    }


def _saved_json(saved: CraftSaved) -> dict[str, Any]:
    return {
        "alarmed": list(saved.alarmed),
        "made_safe": list(saved.made_safe),
        "saved": list(saved.saved),
        "not_known": list(saved.not_known),
        "iced": list(saved.iced),
    }


def _row(figures: StorageFigures, quality: StorageQuality) -> dict[str, object]:
    hours, answers, saved = quality.hours, quality.answers, quality.saved
    counted = [one for one in quality.sensors if one.heard_h is not None]
    row: dict[str, object] = {
        "yard": figures.yard,
        "season": figures.season,
        "from": _time(figures.since),
        "to": _time(figures.until),
        "space": WHOLE,
        "name": figures.yard_name,
        **{key: value for key, value in _hours_json(hours).items() if key in COLUMNS},
        "few": int(hours.is_few),
        **_skill_columns(quality.skill),
        "sensors_of_h": round(sum(one.of_h for one in counted), 6),
        "sensors_heard_h": round(sum(one.heard_h or 0.0 for one in counted), 6),
        "answers_due": answers.due,
        "answers_in_time": answers.in_time,
        "answers_late": answers.late,
        "unanswered": answers.unanswered,
        "answered_median_s": _answers_json(answers)["answered_median_s"],
        "frost_alarmed": len(saved.alarmed),
        "made_safe": len(saved.made_safe),
        "saved": len(saved.saved),
        "saved_not_known": len(saved.not_known),
        "iced": len(saved.iced),
    }
    if isinstance(quality, SpaceStorage):
        row |= {
            "space": quality.space,
            "name": quality.name,
            "kind": SpaceKind(quality.kind).value,
            "low_limit_c": quality.limits.low_c,
            "low_c": quality.low_c,
            "frost_k_h": quality.frost_kh,
            "nights": quality.nights,
            "nights_unheard": quality.nights_unheard,
        }
    return row


def _skill_columns(skill: Skill | None) -> dict[str, object]:
    if skill is None:
        return {}
    return {
        "skill_nights": skill.nights,
        "low_error_k": json_number(skill.error_k, 4),
        "low_crps_skill_over_climate": json_number(skill.crps_over_climate, 4),
        "below_zero_brier_skill_over_climate": json_number(skill.brier_over_climate, 4),
    }


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")
