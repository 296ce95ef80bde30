"""What a fact keeps as a JSON object, which may come from somebody else or be damaged."""

from __future__ import annotations

import json
from typing import Any


def kept_object(text: str) -> dict[str, Any]:
    """The object in a text; empty where there is none.

    Args:
        text: JSON; empty for nothing kept.
    """
    try:
        data = json.loads(text or "{}")
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}
