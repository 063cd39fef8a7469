"""A member of a ZIP file that is the same whenever and wherever it was written."""

from __future__ import annotations

import zipfile

# A ZIP cannot tell of an earlier time; no time of today may be in it.
LONG_AGO = (1980, 1, 1, 0, 0, 0)


def zip_member(name: str, method: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    """Return what the ZIP says of a member: never a time, an account or a machine.

    Unpacked, it is for the eyes of whoever unpacked it.
    """
    info = zipfile.ZipInfo(name, LONG_AGO)
    info.compress_type = method
    info.create_system = 3
    info.external_attr = 0o600 << 16
    return info
