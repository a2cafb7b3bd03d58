"""Events as rows: packed, chained by hash, and back again."""

from __future__ import annotations

import hashlib
import json
import zlib
from datetime import UTC, datetime
from typing import Any

from subbase.journal.bodies import MOST_BODY_BYTES, body_json, read_body
from subbase.journal.database import Row, time_text
from subbase.journal.events import Entry, Event

CHAIN_START = ""
_WORTH_PACKING = 200
"""Bytes from which a body is compressed."""
INSERT = (
    "INSERT INTO events (job, sequence, key, kind, actor, device, made_at, received_at, seen, packed, body, chain) VALUES"
    " (:job, :sequence, :key, :kind, :actor, :device, :made_at, :received_at, :seen, :packed, :body, :chain)"
)


def event_row(entry: Entry, job: str, sequence: int, received_at: str, chain: str) -> dict[str, Any]:
    """Return the row of one event; ``chain`` is that of the event before it."""
    body = body_json(entry.body)
    values: dict[str, Any] = {
        "job": job,
        "sequence": sequence,
        "key": entry.key,
        "kind": entry.body.kind,
        "actor": entry.actor,
        "device": entry.device,
        "made_at": time_text(entry.made_at),
        "received_at": received_at,
        "seen": entry.seen,
    }
    packed = zlib.compress(body, 6) if len(body) >= _WORTH_PACKING else body
    smaller = len(packed) < len(body)
    return values | {
        "packed": int(smaller),
        "body": packed if smaller else body,
        "chain": next_chain(chain, values, body),
    }


def next_chain(chain: str, values: Row, body: bytes) -> str:
    """Return the hash over an event and all before it: a byte that rots on the disk shows, and so does a lost row."""
    names = ("sequence", "key", "kind", "actor", "device", "made_at", "received_at", "seen")
    head = json.dumps([chain, *(values[name] for name in names)], ensure_ascii=True).encode()
    return hashlib.sha256(head + b"\n" + body).hexdigest()


def body_of(row: Row) -> bytes:
    """Return the body of a row as JSON.

    Raises
    ------
    ValueError
        When it is damaged.
    """
    body = bytes(row["body"])
    if not row["packed"]:
        return body
    unpacking = zlib.decompressobj()
    try:
        whole = unpacking.decompress(body, MOST_BODY_BYTES + 1)
    except zlib.error as error:
        raise ValueError(str(error)) from None
    if not unpacking.eof or len(whole) > MOST_BODY_BYTES:
        raise ValueError("the packed body does not end where it should")
    return whole


def event_of(row: Row) -> Event:
    """Return a row as an event.

    Raises
    ------
    ValueError
        When the row is damaged.
    """
    # Fields were checked when the entry came in: to check them again would double the time of every page.
    return Event.model_construct(
        key=row["key"],
        made_at=datetime.fromisoformat(row["made_at"]).astimezone(UTC),
        actor=row["actor"],
        device=row["device"],
        seen=row["seen"],
        body=read_body(json.loads(body_of(row))),
        job=row["job"],
        sequence=row["sequence"],
        received_at=datetime.fromisoformat(row["received_at"]).astimezone(UTC),
    )
