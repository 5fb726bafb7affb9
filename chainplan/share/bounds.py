"""How much the server takes from whoever reaches it: bounds with their reasons."""

from __future__ import annotations

BODY_BYTES = 256_000
"""Of one request: two hundred taps with notes of five hundred letters each are half of it."""
TAPS_AT_ONCE = 500
"""Of one request; a tablet that was away for days hands over in several."""
NOTE_LETTERS = 500
LABEL_LETTERS = 60
"""Letters of a note and of a name: what a bench writes is shorter."""
EVENTS_A_JOIN = 50
EVENTS_MORE = 5000
"""Events of one plan: fifty a join and some more are beyond any work, and a file of millions of
rows would be somebody's joke."""
REQUESTS_A_S = 200.0
REQUESTS_AT_ONCE = 400
"""Of one address: twenty tablets behind one address tap forty times a second."""
WRONG_A_MIN = 12
"""Requests without the right token of one address; beyond, it waits."""
STREAMS = 64
CONNECTIONS = 200
CLAIMS = 500
"""Streams, connections and stretches taken at once: ten times what a workshop has (judgement)."""
OLDEST_TAP_S = 14 * 86400.0
"""A tap that waited longer in a tablet counts as told so long ago."""
TOKEN_H = 14.0
"""How long a token is good: one long working day, so that a code photographed today is none next
week."""
EVENTS_A_PAGE = 2000
HEARTBEAT_S = 5.0
"""Events of one page of the record, which is a file of half a megabyte; and seconds after which a
quiet stream says that it is still there."""
TOGETHER_S = 0.05
"""News are gathered for so long before they are sent on: twenty tablets then cost one write, not
forty, and nobody sees a twentieth of a second."""
ELSEWHERE_S = 2.0
"""How often the record is looked at for what another program put in."""
