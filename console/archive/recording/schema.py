"""The tables of a recording: one SQLite file a pass.

``frames``, ``actions``, ``ends`` and ``unfed`` are the inputs of the state model and are
authoritative; a replay reads nothing else. All other tables are derived from them while the
pass runs, for anyone with SQL, except ``notes`` with origin ``afterwards``.

Order of inputs. A frame's ``id`` is its number, counted from 1 in the order received. Actions and
time marks name in ``after`` the frame that the state model had taken last; they follow that
frame, actions first and by their ``id``. So (frame, then what came after it) is one global order
although frames and actions are handed in by different threads.
"""

from __future__ import annotations

APPLICATION_ID = 0x4C_44_4D_4B  # "LDMK"
VERSION = 1
BLOCK_ROWS = 512

SAMPLE_STATE = (
    "range_m", "range_rate_mps", "y_m", "z_m", "roll_deg", "pitch_deg", "yaw_deg",
    "y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps",
)  # fmt: skip
CAPTURE_STATE = (
    "contact", "soft_capture", "ring_extension", "ready_to_hook", "hooks", "hard_capture",
    "vestibule_kpa", "vestibule_degc", "rel_rate_mps", "rel_rate_dps",
)  # fmt: skip

# Table by table, the columns in order. Salvage tells tables apart by number and kind of columns,
# so a new table must differ from all others in that.
COLUMNS: dict[str, tuple[str, ...]] = {
    "meta": ("key", "value"),
    "frames": ("id", "t_received", "topic", "payload"),
    "actions": ("id", "after", "t", "body"),
    "ends": ("after", "t"),
    "unfed": ("frame",),
    "gaps": ("id", "first", "last", "frames", "t_first", "t_last", "reason"),
    "samples": ("id", "frame", "source", "seq", "t", *SAMPLE_STATE, "valid"),
    "capture": ("id", "frame", "source", "seq", "t", *CAPTURE_STATE),
    "events": ("id", "after", "body"),
    "notes": ("id", "t", "initials", "text", "origin"),
    "rejects": ("id", "frame", "t", "reason", "detail", "head"),
    "sources": ("code", "name"),
    "blocks": ("first", "rows", "data"),
}

_SAMPLE_COLUMNS = ",\n    ".join(f"{name} REAL" for name in SAMPLE_STATE)

TABLES = f"""
CREATE TABLE meta (          -- facts of the watch; limits and setup whole, with their sha256
    key TEXT NOT NULL,
    value TEXT NOT NULL);
CREATE TABLE frames (        -- raw messages, in the order received; authoritative
    id INTEGER PRIMARY KEY,
    t_received REAL NOT NULL,
    topic TEXT NOT NULL,
    payload BLOB NOT NULL);
CREATE TABLE actions (       -- what the operator did, as JSON; t is engine time
    id INTEGER PRIMARY KEY,
    after INTEGER NOT NULL,
    t REAL NOT NULL,
    body TEXT NOT NULL);
CREATE TABLE ends (          -- engine time reached after a frame; the last is the end
    after INTEGER PRIMARY KEY,
    t REAL NOT NULL);
CREATE TABLE unfed (         -- frames recorded but never fed: the queue to the model was full
    frame INTEGER PRIMARY KEY);
CREATE TABLE gaps (          -- frames received but not recorded
    id INTEGER PRIMARY KEY,
    first INTEGER NOT NULL,
    last INTEGER NOT NULL,
    frames INTEGER NOT NULL,
    t_first REAL,
    t_last REAL,
    reason TEXT NOT NULL);
CREATE TABLE samples (       -- decoded relative-state samples
    id INTEGER PRIMARY KEY,
    frame INTEGER NOT NULL,
    source TEXT NOT NULL,
    seq INTEGER NOT NULL,
    t REAL NOT NULL,
    {_SAMPLE_COLUMNS},
    valid INTEGER NOT NULL);
CREATE TABLE capture (       -- decoded capture statuses; the two lists as JSON
    id INTEGER PRIMARY KEY,
    frame INTEGER NOT NULL,
    source TEXT NOT NULL,
    seq INTEGER NOT NULL,
    t REAL NOT NULL,
    contact INTEGER,
    soft_capture INTEGER,
    ring_extension REAL,
    ready_to_hook TEXT,
    hooks TEXT,
    hard_capture INTEGER,
    vestibule_kpa REAL,
    vestibule_degc REAL,
    rel_rate_mps REAL,
    rel_rate_dps REAL);
CREATE TABLE events (        -- the event log, one JSON line each, byte for byte
    id INTEGER PRIMARY KEY,
    after INTEGER NOT NULL,
    body TEXT NOT NULL);
CREATE TABLE notes (         -- origin 'live' or 'afterwards'
    id INTEGER PRIMARY KEY,
    t REAL NOT NULL,
    initials TEXT NOT NULL,
    text TEXT NOT NULL,
    origin TEXT NOT NULL);
CREATE TABLE rejects (       -- messages that did not validate, with the payload's first bytes
    id INTEGER PRIMARY KEY,
    frame INTEGER NOT NULL,
    t REAL NOT NULL,
    reason TEXT NOT NULL,
    detail TEXT NOT NULL,
    head BLOB NOT NULL);
CREATE TABLE sources (       -- codes that blocks use
    code INTEGER PRIMARY KEY,
    name TEXT NOT NULL);
CREATE TABLE blocks (        -- the rows of samples again, {BLOCK_ROWS} at a time, for bulk reading
    first INTEGER PRIMARY KEY,
    rows INTEGER NOT NULL,
    data BLOB NOT NULL);
"""


def insert_of(table: str, rows: int = 1) -> str:
    """Give the INSERT statement that takes all columns of a table, for so many rows at once."""
    columns = COLUMNS[table]
    marks = f"({', '.join('?' * len(columns))})"
    verb = "INSERT OR REPLACE" if table == "ends" else "INSERT"
    return f"{verb} INTO {table} ({', '.join(columns)}) VALUES {', '.join([marks] * rows)}"
