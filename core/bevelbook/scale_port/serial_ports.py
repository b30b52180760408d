"""The serial ports of this computer, by pyserial, which comes with the extra ``scale``."""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from types import ModuleType
from typing import TYPE_CHECKING, Final

from bevelbook.declare.errors import InputError
from bevelbook.scale_port.line_settings import LineSettings

if TYPE_CHECKING:
    from serial import Serial

_OTHER_FAULTS: tuple[type[Exception], ...] = ()
"""What pyserial lets through while it sets a port: that of the system's terminals, which Windows does not have."""
with suppress(ImportError):
    from termios import error as fault_of_setting

    _OTHER_FAULTS = (fault_of_setting,)

_NO_PORT: Final = os.strerror(errno.ENOTTY)
READ_S: Final = 0.2
"""A read waits so long for the first byte."""


class PortFault(Exception):
    """A port cannot be opened, or is gone; the words say why."""


def pyserial() -> ModuleType:
    """The library. Raises InputError where it is not installed."""
    try:
        import serial
    except ImportError as fault:
        raise InputError(
            "a scale is read with pyserial, which is not installed",
            code="no_pyserial",
            remedy="Install it with pip install 'bevelbook[scale]', or leave the scale out.",
        ) from fault
    return serial


def ports_here() -> tuple[str, ...]:
    """The ports that this computer has now, each with what it says of itself: ``/dev/ttyUSB0 (USB serial)``."""
    pyserial()
    from serial.tools.list_ports import comports

    said = ((one.device, "" if one.description in (None, "n/a") else one.description) for one in comports())
    return tuple(f"{device} ({words})" if words else device for device, words in sorted(said))


def open_port(name: str, settings: LineSettings) -> Serial:
    """A port of its own, open. Raises PortFault with the reason, or InputError for a setting that it does not have."""
    serial = pyserial()
    try:
        port: Serial = serial.Serial(
            name,
            baudrate=settings.baud,
            bytesize=settings.bits,
            parity=settings.parity,
            stopbits=settings.stop_bits,
            timeout=READ_S,
            write_timeout=READ_S,
            exclusive=True if os.name == "posix" else None,
        )
    except ValueError as fault:
        raise InputError(
            f"{name} cannot be set like that",
            code="scale_line_setting",
            found=f"{settings.baud},{settings.bits}{settings.parity}{settings.stop_bits}",
            remedy="The menu or the manual of the scale says how it prints; 9600,8N1 is usual.",
        ) from fault
    except (serial.SerialException, OSError) as fault:
        raise PortFault(_why(name, fault)) from fault
    except _OTHER_FAULTS as fault:  # pulled out while it was being set
        raise PortFault(_why(name, OSError(*fault.args))) from fault
    return port


def check_port(name: str, settings: LineSettings) -> None:
    """Open a port once, and close it. Raises InputError that names the ports there are."""
    try:
        open_port(name, settings).close()
    except PortFault as fault:
        here = ports_here()
        raise InputError(
            str(fault),
            code="no_scale_port",
            found=name,
            remedy=f"There is: {'; '.join(here)}."
            if here
            else "This computer has no serial port now. Plug the scale in and look again.",
        ) from fault


def _why(name: str, fault: OSError) -> str:
    """Why a port cannot be had. pyserial keeps the number of the fault, or on Windows only its words."""
    words = str(fault)
    if not name.strip():
        return "no port is named"
    if fault.errno in (errno.EISDIR, errno.ENOTTY) or _NO_PORT in words:
        return f"{name} is not a serial port"
    if fault.errno in (errno.ENOENT, errno.ENXIO, errno.ENODEV) or "FileNotFoundError" in words:
        return f"there is no port {name}: the scale is not plugged in, or has another name"
    if fault.errno == errno.EACCES and "exclusively" not in words:
        return f"{name} may not be opened by you; on Linux the group dialout may"
    if fault.errno in (errno.EBUSY, errno.EAGAIN) or "exclusively" in words or "PermissionError" in words:
        return f"another program has {name} open"
    return f"{name} cannot be opened: {fault.strerror or words}"
