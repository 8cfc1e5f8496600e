"""A small sealed record with its whole proof, made without a store; tests tamper with it."""

import base64
import json
from datetime import UTC, datetime, timedelta
from hashlib import sha256

from monitor.craft.canonical import canonical_bytes
from monitor.craft.links import FIRST, LinkKind, chain_link
from monitor.craft.merkle import RecordHead, head_of
from monitor.craft.proof_check import group_leaf, leaves_of_group, marks_of
from monitor.craft.sealing import seal_record
from monitor.craft.signed_statements import sign_head
from monitor.craft.signing_key import SigningKey
from monitor.craft.tree_cover import HashedTree

YARD = "north"
BEGIN = datetime(2026, 11, 3, 9, tzinfo=UTC)
PHOTO = b"\xff\xd8 no real picture"


def own_links():
    """The craft's chain: its row, its move, two pieces of work."""
    said = [
        (LinkKind.CRAFT, {"id": "PWC-7", "name": "Plover", "profile": "pwc-3"}),
        (LinkKind.MOVE, {"craft": "PWC-7", "since": "2026-11-03T09:00:00Z", "space": "shed"}),
        (LinkKind.ENTRY, {"id": "w1", "craft": "PWC-7", "act": "drain", "by": "Vera Lund"}),
        (LinkKind.ENTRY, {"id": "w2", "craft": "PWC-7", "act": "fog", "by": "Ansel Rye"}),
    ]
    return chained(said)


def chained(said):
    found, before = [], FIRST
    for number, (kind, content) in enumerate(said):
        link = chain_link(kind, content, number, BEGIN + timedelta(hours=number), before)
        found.append(link)
        before = link.hash
    return found


def sensor_leaves(day, of_day):
    """Hours of one sensor on one day."""
    first = (day - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(hours=1)
    return [
        [
            first + hour,
            base64.urlsafe_b64encode(sha256(b"%d %d" % (of_day, hour)).digest()).decode()[:43],
            [60, -412 + hour, -371 + hour, -398 + hour],
        ]
        for hour in range(24)
    ]


def day_group(of, leaves):
    """A group as a proof shows it, and its leaf in the tree of the day."""
    group = {"of": of, "leaves": leaves}
    own = leaves_of_group(group)
    group["marks"] = marks_of(own)
    return group, group_leaf(of, len(own), HashedTree(own).root)


def sealed_parts(days=3):
    """Figures, proof and key of a record that is not sealed yet, and the heads of the yard."""
    key = SigningKey.make_new()
    craft = own_links()
    shown, roots = [], []
    for n in range(days):
        day = datetime(2026, 11, 4, tzinfo=UTC) + timedelta(days=n)
        event = [f"a{n}", 0, "2026-11-04T03:00:00Z", "normal", "unacknowledged", ""]
        alarm, alarm_leaf = day_group(["alarm", "shed", "PWC-7"], [event])
        others = [
            day_group(["hour", f"barn-{k}", ["temperature"]], sensor_leaves(day, k))[1]
            for k in range(9)
        ]
        own, own_leaf = day_group(
            ["hour", "urn:dev:ops:shed", ["temperature"]], sensor_leaves(day, 100 + n)
        )
        tree = HashedTree([alarm_leaf, *others, own_leaf])
        places = [0, 10]
        name = f"{day:%Y-%m-%d}"
        roots.append({"day": name, "groups": tree.size, "root": tree.root})
        shown.append({"day": name, "groups": [alarm, own], "tree": tree.cover_of(places)})
    yard = chained([(LinkKind.DAY, one) for one in roots])
    others = [sha256(b"other %d" % n).hexdigest() for n in range(40)]
    # In the yard's order: some of other craft, this craft's, others, the days.
    order = [*others[:13], *(one.hash for one in craft), *others[13:], *(one.hash for one in yard)]
    own_places = [n for n, one in enumerate(order) if one not in others]
    tree = HashedTree([bytes.fromhex(one) for one in order])
    head = RecordHead(tree.size, tree.root)
    links = [json.loads(one.body) for one in (*craft, *yard)]
    proof = {
        "head": sign_head(head, YARD, BEGIN + timedelta(days=150), key),
        "tree": tree.cover_of(own_places, [20, 30]),
        "links": links,
        "marks": marks_of([sha256(canonical_bytes(one)).digest() for one in links]),
        "days": shown,
    }
    document = {
        "yard": {"id": YARD, "name": "North Yard"},
        "craft": {"id": "PWC-7", "name": "Plover"},
        "season": {"from": "2026-11-03", "to": "2027-04-01"},
        "work": [{"id": "w1", "act": "drain"}, {"id": "w2", "act": "fog"}],
        "alarms": [
            {"id": f"a{n}", "answered_by": "Vera Lund", "low_c": -4.1 - n} for n in range(3)
        ],
        "photos": [
            {
                "sha256": sha256(PHOTO).hexdigest(),
                "media_type": "image/jpeg",
                "content": base64.b64encode(PHOTO).decode(),
            }
        ],
        "proof": proof,
    }
    heads = {count: head_of(order[:count]) for count in (20, 30, 31, len(order))}
    return document, key, heads


def sealed_scene():
    """A sealed record, its key, and heads that mails carried, by their count of links."""
    document, key, heads = sealed_parts()
    return seal_record(document, key), key, heads
