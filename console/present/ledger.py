"""The ledger: each judged quantity now against its limit here, and as it will be at contact.

Nothing is judged from contact on: the columns of now are then empty, and those of contact hold
what was measured, with what was predicted last before contact in place of the chance.

The limit shown is the warning limit; a caution limit is a tick on the margin bar. Where a
quantity has none but caution limits, these stand in the warning's place.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.snapshot import CaptureNow, LimitNow, Snapshot, Verdict
from console.approach.words import DECIMALS, LABEL
from console.envelope.limits import Allow, ContactLimit, Level, LimitsFile
from console.envelope.quantity import AT_CONTACT, UNIT, Quantity
from console.present import text
from console.present.cell import BLANK, Note
from console.present.levels import judged_value, limits_on, shown_band, standing_level
from console.present.tone import CAUTION_MARK, WARNING_MARK, Tone, mark_of, tone_of
from console.tracking.outlook import ContactQuantity, Motion

SOON_S = 60.0
"""A limit that is reached later than this at the present trend is not spoken of."""

BEFORE_CONTACT_S = 2.0
"""Nor is one that is reached only about contact, where the limits draw together."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A margin bar: how much of the allowed region is used, 0 to 1, and where the caution lies."""

    used: float
    tick: float | None
    tone: Tone


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """One quantity's line."""

    name: str
    unit: str
    mark: str
    tone: Tone
    soon: str
    """``limit in 0:12`` where the present trend reaches it soon."""
    now: str
    now_tone: Tone
    limit: str
    bar: Bar | None
    at_contact: str
    contact_mark: str
    contact_tone: Tone
    contact_limit: str
    chance: str
    is_past: bool = False
    """Contact was made: the chance's place holds what was predicted."""

    @property
    def chance_tone(self) -> Tone:
        """The voice of the prediction, where there is a chance to speak of."""
        is_quiet = self.is_past or self.chance == text.UNKNOWN
        return Tone.PLAIN if is_quiet else self.contact_tone

    @property
    def spoken(self) -> str:
        """The row as one sentence for a screen reader."""
        level = {CAUTION_MARK: "caution", WARNING_MARK: "warning"}.get(self.mark, "")
        stale = "stale" if self.now_tone is Tone.STALE else ""
        parts = (
            f"{self.name} {self.now} {self.unit}", level, stale, f"limit {self.limit}", self.soon,
            f"at contact {self.at_contact}, limit {self.contact_limit}",
            f"{'predicted' if self.is_past else 'chance within'} {self.chance}",
        )  # fmt: skip
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class LedgerView:
    """Rows, the headers over the last columns, and the line below all rows.

    ``together`` is the chance that every contact limit is met at once; after contact it says how
    long before contact the prediction was made.
    """

    rows: tuple[LedgerRow, ...]
    contact_header: str
    together: Note
    chance_header: str = "chance"


def ledger(snapshot: Snapshot | None, limits: LimitsFile) -> LedgerView:
    """Give the ledger of a snapshot; None is a watch that has no state yet."""
    wanted = _quantities(limits)
    if snapshot is None:
        blank = tuple(_row(None, quantity, limits) for quantity in wanted)
        return LedgerView(blank, "at contact", BLANK)
    measured = snapshot.capture is not None and snapshot.capture.contact is not None
    rows = tuple(_row(snapshot, quantity, limits) for quantity in wanted)
    if not measured:
        return LedgerView(rows, "at contact", _together(snapshot))
    return LedgerView(rows, "measured", _predicted_before(snapshot), "predicted")


def _quantities(limits: LimitsFile) -> tuple[Quantity, ...]:
    """Give those with a contact limit's place first, then any other the file judges."""
    judged = {limit.quantity for limit in limits.limits}
    others = tuple(q for q in Quantity if q in judged and q not in AT_CONTACT)
    return (*AT_CONTACT, *others)


def _row(s: Snapshot | None, quantity: Quantity, limits: LimitsFile) -> LedgerRow:
    judged = s if s is not None and s.contact_t is None else None
    level = standing_level(judged, quantity) if judged else None
    band = shown_band(judged, quantity) if judged else (None, None)
    value = judged_value(judged, quantity) if judged else None
    now_tone = tone_of(level, Tone.STRONG)
    if judged is not None and judged.stale and value is not None:
        now_tone = Tone.STALE
    predicted, contact_mark, contact_tone, chance = _at_contact(s, quantity)
    bound = next((c for c in limits.contact_limits if c.quantity is quantity), None)
    return LedgerRow(
        name=LABEL[quantity],
        unit=UNIT[quantity],
        mark=mark_of(level),
        tone=tone_of(level),
        soon=_soon(judged, quantity) if judged else "",
        now=text.quantity(value, quantity),
        now_tone=now_tone,
        limit=text.band(*band, DECIMALS[quantity]),
        bar=_bar(limits_on(judged, quantity), level) if judged else None,
        at_contact=predicted,
        contact_mark=contact_mark,
        contact_tone=contact_tone,
        contact_limit=_contact_band(bound),
        chance=chance,
        is_past=s is not None and s.capture is not None and s.capture.contact is not None,
    )


def _bar(limits: tuple[LimitNow, ...], standing: Level | None) -> Bar | None:
    base = [n for n in limits if n.level is Level.WARNING and n.limit is not None]
    base = base or [n for n in limits if n.limit is not None]
    shares = [(share, n) for n in base if (share := _used(n, n.value)) is not None]
    if not shares:
        return None
    used, tightest = max(shares, key=lambda pair: pair[0])
    ticks = [
        tick
        for n in limits
        if n.level is Level.CAUTION and n.allow is tightest.allow and n is not tightest
        if (tick := _used(tightest, n.limit)) is not None
    ]
    violated = max((n.level for n in limits if _is_violated(n)), default=None)
    worst = max((x for x in (violated, standing) if x is not None), default=None)
    return Bar(used, min(ticks, default=None), tone_of(worst))


def _is_violated(n: LimitNow) -> bool:
    return n.verdict in (Verdict.OUTSIDE, Verdict.CAUTION)


def _used(limit: LimitNow, value: float | None) -> float | None:
    """Give the share of the way to a limit that a value has used, 0 to 1; 1 at or past it."""
    bound = limit.limit
    if bound is None or value is None:
        return None
    if limit.allow is Allow.BELOW:
        inside, share = value <= bound, value / bound if bound > 0.0 else 0.0
    else:
        inside, share = value >= bound, bound / value if value > 0.0 else 0.0
    return min(max(share, 0.0), 1.0) if inside else 1.0


def _soon(s: Snapshot, quantity: Quantity) -> str:
    times = [n.violates_in_s for n in limits_on(s, quantity) if n.level is Level.WARNING]
    nearest = min((t for t in times if t is not None and t > 0.0), default=None)
    contact = s.to_contact.best_s
    if nearest is None or nearest > SOON_S or s.stale:
        return ""
    if contact is not None and nearest > contact - BEFORE_CONTACT_S:
        return ""
    return f"limit in {text.duration(nearest, down=True)}"


def _at_contact(s: Snapshot | None, quantity: Quantity) -> tuple[str, str, Tone, str]:
    nothing = (text.UNKNOWN, "", Tone.PLAIN, text.UNKNOWN)
    if s is None:
        return nothing
    if s.capture is not None and s.capture.contact is not None:
        contact = s.capture.contact
        if quantity not in AT_CONTACT:
            return nothing
        value = text.quantity(contact.values.get(quantity), quantity)
        is_out = quantity in contact.outside
        mark, tone = (WARNING_MARK, Tone.WARNING) if is_out else ("", Tone.PLAIN)
        return value, mark, tone, _was_predicted(s.capture, quantity)
    found = _predicted(s, quantity)
    if found is None or found.predicted is None:
        return nothing
    value = text.quantity(found.predicted.mean, quantity)
    held = ContactLimit(quantity, found.minimum, found.maximum).holds(found.predicted.mean)
    bad = s.motion is Motion.CLOSING and not held
    mark, tone = (CAUTION_MARK, Tone.CAUTION) if bad else ("", Tone.PLAIN)
    return value, mark, tone, text.chance(found.chance)


def _was_predicted(capture: CaptureNow, quantity: Quantity) -> str:
    """Give what was predicted last before contact."""
    if capture.predicted is None:
        return text.UNKNOWN
    found = next((c for c in capture.predicted.quantities if c.quantity is quantity), None)
    mean = None if found is None or found.predicted is None else found.predicted.mean
    return text.quantity(mean, quantity)


def _predicted_before(s: Snapshot) -> Note:
    capture = s.capture
    if capture is None or capture.contact is None or capture.predicted_t is None:
        return BLANK
    return Note(f"predicted {capture.contact.t - capture.predicted_t:.1f} s before contact")


def _predicted(s: Snapshot, quantity: Quantity) -> ContactQuantity | None:
    if s.at_contact is None:
        return None
    return next((c for c in s.at_contact.quantities if c.quantity is quantity), None)


def _contact_band(bound: ContactLimit | None) -> str:
    if bound is None:
        return text.UNKNOWN
    known = [v for v in (bound.minimum, bound.maximum) if v is not None]
    decimals = max(DECIMALS[bound.quantity] - 1, *map(text.decimals_of, known))
    return text.band(bound.minimum, bound.maximum, decimals)


def _together(s: Snapshot) -> Note:
    said = [
        f"{prediction.assumption} {text.chance(prediction.chance_all)}"
        for prediction in (s.at_contact, s.if_thrust_stops)
        if prediction is not None and prediction.chance_all is not None
    ]
    if not said or s.at_contact is None:
        return BLANK
    known = "" if s.at_contact.calibrated else ", uncalibrated"
    return Note(f"all contact limits at once{known}:  {',  '.join(said)}")
