"""What a program gets that asks for JSON and is refused: what was wrong, where, what to do, and the status that says
whether to ask again."""

from __future__ import annotations

from http import HTTPStatus
from pathlib import PurePath
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.web.host.arguments import OddArgument
from bevelbook.web.host.policy import headers_of_ours
from bevelbook.web.worker.calculators import COME_AGAIN_AFTER_S, CalculatorsBusy
from bevelbook.web.worker.stopped import CalculatorStopped

JSON_ENDING: Final = ".json"
NO_CALCULATOR: Final = "unknown_calculator"
_LISTED: Final = "/-/openapi.json lists them all."
_CODES: Final = {403: "not_allowed", 404: "no_page", 405: "no_method", 500: "server_failed"}
"""Of a status that nothing else explains."""


def status_of(fault: BevelbookError) -> HTTPStatus:
    """400 for what was asked wrongly, 404 for a calculator that there is not, 500 for a plugin that failed, 503 for one
    that took too long or cannot be asked now."""
    if isinstance(fault, CalculatorsBusy | CalculatorStopped):
        return HTTPStatus.SERVICE_UNAVAILABLE
    if isinstance(fault, PluginFault):
        return HTTPStatus.INTERNAL_SERVER_ERROR
    return HTTPStatus.NOT_FOUND if fault.code == NO_CALCULATOR else HTTPStatus.BAD_REQUEST


def fault_as_data(fault: BevelbookError) -> dict[str, Any]:
    """A fault with its code, field and remedy: no folder of this machine, and no command, which a program here has
    not."""
    said = dict(fault.as_dict())
    if isinstance(fault.place.file, str):
        said["file"] = PurePath(fault.place.file).name
    if isinstance(fault, UnknownNameError):
        said["remedy"] = fault.near or (_LISTED if fault.code == NO_CALCULATOR else None)
    return {"ok": False, "status": int(status_of(fault)), **said}


def more_as_data(exception: Exception, status: int) -> dict[str, Any]:
    """Code, field and remedy of what was refused before any page of ours was asked."""
    if isinstance(exception, OddArgument):
        return {"code": "odd_argument", "field": exception.name, "remedy": exception.remedy}
    code = exception.code if isinstance(exception, BevelbookError) else _CODES.get(status, "refused")
    return {"code": code, "field": None, "remedy": None}


def refused_program(fault: BevelbookError) -> Any:
    """The answer."""
    from datasette.utils.asgi import Response

    status = status_of(fault)
    later = {"retry-after": str(COME_AGAIN_AFTER_S)} if status is HTTPStatus.SERVICE_UNAVAILABLE else {}
    return Response.json(fault_as_data(fault), status=int(status), headers=headers_of_ours() | later)
