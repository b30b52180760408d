"""What a function does beside working something out is seen, however it is called, and nothing of it comes about."""

from __future__ import annotations

import json
import subprocess
import sys

from examining import impure_calls


def test_each_impure_call_is_seen_and_others_are_not() -> None:
    done = subprocess.run([sys.executable, impure_calls.__file__], capture_output=True, text=True, check=True)
    found = json.loads(done.stdout)
    wanted = {code: [[] if code == "nothing" else [code]] * len(calls) for code, calls in impure_calls.CALLS.items()}
    assert found["seen"] == wanted
    assert not found["written"]
