"""UTC texts after CCSDS 301.0-B-4 section 3.5, and seconds since 1970."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.core.utc import format_clock, format_utc, parse_utc


@pytest.mark.parametrize("text", ["1988-01-18T17:20:43.123456Z", "1988-018T17:20:43.123456Z"])
def test_the_standards_own_example_in_both_codes(text):
    """CCSDS 301.0-B-4 3.5.1: both codes are one instant, 569524843.123456 s since 1970."""
    assert pytest.approx(parse_utc(text), abs=1e-6) == 569_524_843.123456


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1970-01-01T00:00:00Z", 0.0),
        ("2000-02-29T23:59:59.5Z", 951_868_799.5),
        ("2031-04-11 09:42:22+00:00", 1_933_666_942.0),
        ("2016-12-31T23:59:60Z", 1_483_228_800.0),
        ("2031-04-11T09:42:22,25Z", 1_933_666_942.25),
    ],
)
def test_other_forms(text, seconds):
    """A blank for T, an offset of zero, a comma, and a leap second (as POSIX counts it)."""
    assert seconds == parse_utc(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "now",
        "2031-04-11T09:42:22",
        "2031-04-11T09:42:22+02:00",
        "2031-13-01T00:00:00Z",
        "2031-02-30T00:00:00Z",
        "2031-366T00:00:00Z",
        "2031-000T00:00:00Z",
        "9999-999T00:00:00Z",
        "2031-04-11T24:00:00Z",
        "2031-04-11T09:60:00Z",
        "2031-04-11T09:42:61Z",
    ],
)
def test_what_is_no_utc_time_is_refused(text):
    """No zone, another zone, or no such date or time: ValueError, nothing else."""
    with pytest.raises(ValueError, match=r"."):
        parse_utc(text)


@given(st.datetimes(datetime(1971, 1, 1), datetime(2099, 12, 31)))  # noqa: DTZ001 - made UTC below
def test_python_reads_what_we_write(moment):
    """The standard library reads our text back to the microsecond, and so do we."""
    t = moment.replace(tzinfo=UTC).timestamp()
    text = format_utc(t, 6)
    assert t == pytest.approx(datetime.fromisoformat(text).timestamp(), abs=1e-6)
    assert t == pytest.approx(parse_utc(text), abs=1e-6)


def test_rounding_carries_over():
    """59.9996 s at three digits is the next minute, not second 60."""
    t = parse_utc("2031-04-11T23:59:59.9996Z")
    assert format_utc(t) == "2031-04-12T00:00:00.000Z"
    assert format_clock(t) == "00:00:00"
