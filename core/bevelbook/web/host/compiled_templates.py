"""Templates compiled once for all names under which they are asked for."""

from __future__ import annotations

from types import CodeType

from jinja2.bccache import Bucket, BytecodeCache


class CompiledTemplates(BytecodeCache):
    """What templates compile to, in memory; a template whose text has changed is compiled again."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.code
