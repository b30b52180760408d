"""What a server with entry knows of who may write."""

from __future__ import annotations

from typing import NamedTuple

from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import PairingsFile


class WhoMayWrite(NamedTuple):
    """The paired phones, the code that pairs the next one, and the names under which this machine may be asked."""

    phones: PairingsFile
    codes: PairingCodes
    names: HostNames = HostNames()
