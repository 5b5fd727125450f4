"""Times of the log as they are said: `Tue 25 Nov 14:10`."""

from __future__ import annotations

from datetime import datetime, timedelta

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


def age(time: str, now: datetime) -> timedelta | None:
    """Return how old a row is; None where its time is none, or lies ahead of `now` (with a time zone)."""
    try:
        read = datetime.fromisoformat(time)
        gone = now - (read if read.tzinfo else read.astimezone())
    except (ValueError, OverflowError):  # of the year 1 no local time can be told
        return None
    return gone if gone >= timedelta(0) else None


def ago(gone: timedelta) -> str:
    """Return how long ago, in words.

    >>> ago(timedelta(days=3, hours=5))
    '3 days ago'
    """
    minutes = int(gone.total_seconds() // 60)
    if minutes < 2:
        return "just now"
    for size, word in ((60 * 24, "day"), (60, "hour"), (1, "minute")):
        count = minutes // size
        if count:
            return f"{count} {word}{'s' if count > 1 else ''} ago"
    return "just now"
