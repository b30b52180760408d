"""Who has Datasette's leave: to write by our pages a paired phone and nobody else, to page through bytes nobody."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import ENTER_ACTION, leave_to_enter
from bevelbook.web.host.readonly import PICTURE_BYTES

_PHONE: Final = "phone:"
VIEW_TABLE: Final = "view-table"


def allowed_to_enter(datasette: Any, actor: Any, action: str, resource: Any) -> bool | None:
    """The answer to Datasette 0.65: None for any other permission."""
    if action != ENTER_ACTION:
        return None
    return _is_paired(datasette, actor) and resource in state_of(datasette).names(datasette)


def rule_for_entering(datasette: Any, actor: Any) -> Any:
    """The answer to Datasette 1.0: None, and so no leave, for anybody but a paired phone."""
    return (
        leave_to_enter(state_of(datasette).names(datasette), "a paired phone") if _is_paired(datasette, actor) else None
    )


def sees_no_bytes(datasette: Any, action: str, resource: Any) -> bool | None:
    """The answer to Datasette 0.65 where it asks who may see a table: nobody the bytes of pictures, which have
    addresses of their own; None for anything else."""
    if action != VIEW_TABLE or not isinstance(resource, tuple) or resource[1:] != (PICTURE_BYTES,):
        return None
    return False if resource[0] in state_of(datasette).names(datasette) else None


def _is_paired(datasette: Any, actor: Any) -> bool:
    """An actor of ours is made of a pairing that holds, once for each request (``phone_of_request.py``)."""
    return state_of(datasette).entry is not None and str((actor or {}).get("id", "")).startswith(_PHONE)
