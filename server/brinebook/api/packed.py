"""Packed bodies: a phone on a thin network sends gzip; nothing is unpacked beyond a limit."""

import zlib

from brinebook.sync.errors import BadRecord, TooLarge

MAX_UNPACKED_BYTES = 1_000_000
"""Four times what a phone sends at once; a bomb is put down after this much."""
_GZIP = 16 + zlib.MAX_WBITS
FIELD = "body"


def unpacked(body: bytes, encoding: str) -> bytes:
    """
    Give the body as it was before packing.

    Raises ``TooLarge`` when more than ``MAX_UNPACKED_BYTES`` come out, and ``BadRecord`` for another encoding, for
    bytes that are no gzip, that were cut off, or that have something behind their end.
    """
    encoding = encoding.strip().lower()
    if encoding in {"", "identity"}:
        return body
    if encoding != "gzip":
        raise BadRecord("Content-Encoding", encoding[:40], "gzip, or none")
    packed = zlib.decompressobj(wbits=_GZIP)
    try:
        found = packed.decompress(body, MAX_UNPACKED_BYTES + 1)
    except zlib.error as problem:
        raise BadRecord(FIELD, "", "gzip that can be unpacked") from problem
    if len(found) > MAX_UNPACKED_BYTES:
        raise TooLarge(FIELD, f"at most {MAX_UNPACKED_BYTES} bytes, unpacked")
    if not packed.eof or packed.unused_data:
        raise BadRecord(FIELD, "", "one whole gzip stream")
    return found
