"""Column types that SQLite and PostgreSQL store alike: UTC instants and JSON values."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from typing import Any

from sqlalchemy import DateTime, Dialect, Text
from sqlalchemy.types import TypeDecorator


class Instant(TypeDecorator[datetime]):
    """Instant, stored as UTC without a time zone, because SQLite has no time zones."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Convert an aware instant into the stored value."""
        return None if value is None else value.astimezone(timezone.utc).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ANN401
        """Convert the stored value into an aware instant."""
        return None if value is None else value.replace(tzinfo=timezone.utc)


class JsonText(TypeDecorator[Any]):
    """Plain values, stored as JSON text, so that both databases return the same."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ANN401
        """Convert plain values into the stored text."""
        if value is None:
            return None
        return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ANN401
        """Convert the stored text into plain values."""
        return None if value is None else json.loads(value)
