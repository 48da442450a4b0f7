"""How the verdict on a joint is shown: its words, and the weight whose shape it bears."""

from __future__ import annotations

JOINT_WORDS = {
    "mates": "mates",
    "watch": "holds, with a caution",
    "wrong_gender": "wrong gender",
    "wrong_size": "wrong size",
    "wrong_kind": "wrong kind",
    "unknown": "not known yet",
}
JOINT_WEIGHTS = {
    "mates": "sound",
    "watch": "watch",
    "wrong_gender": "stop",
    "wrong_size": "stop",
    "wrong_kind": "stop",
    "unknown": "unknown",
}
