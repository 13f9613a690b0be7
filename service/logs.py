"""How a line of the log looks: one JSON object, the same from the application and the server.

The text of an exception may quote a body, a header or an address, and so may what the server says
of a request that it could not read. So neither is written: where in the code it broke is.
"""

from __future__ import annotations

import json
import logging
import re
import time
import traceback

_MOST_CAUSES = 5
_MOST_FRAMES = 20
_OF_A_REQUEST = re.compile(r"(Invalid request|Error handling request).*", re.DOTALL)


class JSONFormatter(logging.Formatter):
    """A record as one line of JSON; ``fields`` of the record become members."""

    def format(self, record: logging.LogRecord) -> str:
        moment = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
        line: dict[str, object] = {
            "time": f"{moment}.{int(record.msecs):03d}Z",
            "level": record.levelname.lower(),
            "logger": record.name,
            "process": record.process,
            "message": _OF_A_REQUEST.sub(r"\1", record.getMessage()),
            **getattr(record, "fields", {}),
        }
        if record.exc_info and record.exc_info[1] is not None:
            line["exception"] = _where(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False, default=str)


def _where(error: BaseException) -> list[dict[str, object]]:
    """Kinds of the errors, the first cause last, and the places in the code; never their words."""
    chain: list[dict[str, object]] = []
    at: BaseException | None = error
    while at is not None and len(chain) < _MOST_CAUSES:
        frames = traceback.extract_tb(at.__traceback__)[-_MOST_FRAMES:]
        chain.append(
            {
                "type": f"{type(at).__module__}.{type(at).__qualname__}",
                "at": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
            }
        )
        at = at.__cause__ or at.__context__
    return chain
