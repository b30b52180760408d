"""Where the pairings of this user are kept."""

from __future__ import annotations

from pathlib import Path

import click


def settings_folder() -> Path:
    """The user's configuration folder for bevelbook: below ``XDG_CONFIG_HOME`` or ``~/.config``, or where the platform
    has such folders."""
    return Path(click.get_app_dir("bevelbook"))
