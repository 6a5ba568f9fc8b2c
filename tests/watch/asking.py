"""What a page sends: its form's key, read as the page reads it, and a move."""

import http.client
import json

MOVE = {"station": 3, "axis": "circumferential", "mm": -0.1}


def form_key(watch):
    """As the page learns it: from its own stream."""
    link = http.client.HTTPConnection("127.0.0.1", watch.port, timeout=30)
    link.request("GET", "/events", headers=getattr(watch, "cookie", {}))
    answer = link.getresponse()
    while not (line := answer.fp.readline()).startswith(b"data: "):
        pass
    link.close()
    return json.loads(line[6:])["form_key"]
