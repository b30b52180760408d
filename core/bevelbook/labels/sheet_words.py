"""What every sheet says: where its labels go and never go, which paper lasts, and the cautions."""

from __future__ import annotations

from typing import Final

WHERE: Final = (
    "On the bag, the bottle, the tin or the place in the box, never on a diff that runs: oil gets under the glue, and "
    "a shred in a gearbox ends the run."
)
PAPER: Final = (
    "Laser or toner on film under clear tape lasts, on a place wiped with alcohol; ink jet and heat-sensitive paper "
    "last only inside a bag."
)
ALCOHOL: Final = "Alcohol burns: keep it away from flame and from packs that charge, and let it dry before you stick."
AT_FULL_SIZE: Final = "Print at 100 %, not fitted to the page"
ALL: Final = (WHERE, PAPER, ALCOHOL)
SHORT: Final = "Bag, bottle or tin only, never on the diff. Laser on film under tape; ink jet only in a bag."
