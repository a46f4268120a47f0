"""Types of columns that both kinds of database hold alike: instants in UTC and plain values."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from typing import Any

from sqlalchemy import DateTime, Dialect, Text
from sqlalchemy.types import TypeDecorator


class Instant(TypeDecorator[datetime]):
    """An instant, kept as UTC without saying so, for SQLite knows no time zones."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn an aware instant into what is kept."""
        return None if value is None else value.astimezone(timezone.utc).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ANN401
        """Turn what is kept into an aware instant."""
        return None if value is None else value.replace(tzinfo=timezone.utc)


class JsonText(TypeDecorator[Any]):
    """Plain values, kept as the text of JSON: both kinds of database hold and give the same."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ANN401
        """Turn plain values into what is kept."""
        if value is None:
            return None
        return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ANN401
        """Turn what is kept into plain values."""
        return None if value is None else json.loads(value)
