"""schema: the JSON Schema of a document."""

from __future__ import annotations

import json
from typing import Any

from analyser.errors import SettingsError
from analyser.report.documents.schemas import DOCUMENTS, schema_text

__all__ = ["schema"]


def schema(document: str = "debrief") -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a document, which describes every key with its unit and sign.

    Parameters
    ----------
    document : str
        ``"debrief"``, ``"plan"``, ``"season"`` or ``"info"``.

    Returns
    -------
    dict
        With ``$id``, ready for any validator.

    Raises
    ------
    SettingsError
        For another name.

    Examples
    --------
    >>> schema("season")["$id"]
    'urn:crabline:season:1'
    >>> schema()["properties"]["landing"]["properties"]["along_m"]["description"]
    'along the landing direction; positive: long, past the target [m]'
    """
    if document not in DOCUMENTS:
        raise SettingsError(f"there is no document {document!r}", f"one of {', '.join(DOCUMENTS)}")
    found: dict[str, Any] = json.loads(schema_text(document))
    return found
