"""What a row of a file says once its cells are read, and what it means."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from logbook.entries.base import Body

Values = Mapping[str, Any]
"""What each filled cell says, by our columns."""
Content = tuple[Body, datetime]
"""What a row means, and when it happened."""
