"""The process that draws: specifications come in at its standard input, a line of JSON each, and pictures go out.

Run as a file of its own, so it imports nothing of bevelbook. The library holds Python's lock while it draws, and cannot
be stopped: in a process of its own it holds up no page, and ends itself where a specification takes for ever.
"""

from __future__ import annotations

import faulthandler
import json
import os
import signal
import sys

WARMING_UP_S = 60.0
_SMALLEST = '{"mark": "point", "data": {"values": [{"x": 1}]}, "encoding": {"x": {"field": "x", "type": "nominal"}}}'


def main(longest_s: float) -> None:
    """Draw until the input ends, each picture in at most ``longest_s``."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what the library prints may not be taken for an answer
    nowhere = os.open(os.devnull, os.O_WRONLY)

    from vl_convert import vegalite_to_svg

    def limit(seconds: float) -> None:
        faulthandler.dump_traceback_later(seconds, exit=True, file=nowhere)

    def answer(**held: str) -> None:
        answers.write(json.dumps(held).encode() + b"\n")
        answers.flush()

    limit(WARMING_UP_S)
    vegalite_to_svg(_SMALLEST, allowed_base_urls=[])
    faulthandler.cancel_dump_traceback_later()
    answer(ready="yes")
    for line in sys.stdin.buffer:
        limit(longest_s)
        try:
            picture = vegalite_to_svg(line.decode(), allowed_base_urls=[])
        except ValueError as fault:
            answer(fault=str(fault))
        else:
            answer(svg=picture)
        faulthandler.cancel_dump_traceback_later()


if __name__ == "__main__":
    main(float(sys.argv[1]))
