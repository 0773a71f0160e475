"""The digest of a file, computed with Python's hashlib: sim/digest.h says what it is."""

import hashlib
import re

MARK = re.compile(rb"needleturn digest 1, bytes (\d{20}), SHA-256 with these digits as 0: ([0-9a-f]{64})")


def sealed(content):
    """The bytes of a file with a digest that is right for them, as anybody can make one; None where there is no mark."""
    mark = MARK.search(content)
    if not mark:
        return None
    content = bytearray(content)
    content[mark.start(1) : mark.end(1)] = b"%020d" % len(content)
    content[mark.start(2) : mark.end(2)] = b"0" * 64
    content[mark.start(2) : mark.end(2)] = hashlib.sha256(content).hexdigest().encode()
    return bytes(content)
