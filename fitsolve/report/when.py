"""Times of the log as they are said: `Tue 25 Nov 14:10`."""

from __future__ import annotations

from datetime import datetime

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def when(time: str) -> str:
    """Return the time of a row as it is said; as written where it is no time.

    >>> when("2025-11-25T14:10:00+01:00")
    'Tue 25 Nov 14:10'
    """
    try:
        read = datetime.fromisoformat(time)
    except ValueError:
        return time
    return f"{_DAYS[read.weekday()]} {read.day} {_MONTHS[read.month - 1]} {read.hour:02}:{read.minute:02}"
