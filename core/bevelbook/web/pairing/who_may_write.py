"""What a server with entry knows of who may write."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import PairingsFile


def _nowhere() -> Sequence[str]:
    return ()


class WhoMayWrite(NamedTuple):
    """The paired phones, the code that pairs the next one, and the names under which this machine may be asked.

    ``addresses`` gives where other devices reach it now, each as it is typed: ``192.168.1.7:8002``.
    """

    phones: PairingsFile
    codes: PairingCodes
    names: HostNames = HostNames()
    addresses: Callable[[], Sequence[str]] = _nowhere
