"""Where papers and photos lie when it is not this machine."""

from __future__ import annotations

from typing import Any

import environ


def bucket_storage(env: environ.Env) -> dict[str, Any]:
    """Return Django's storage for the private bucket that the environment names.

    Who may have a file is asked of us; a paper's bytes then come from the store itself, by a link
    signed for that one file, which ends after `FILES_LINK_SECONDS`.
    """
    # Only whoever keeps files in a bucket loads its library.
    from botocore.config import Config  # noqa: PLC0415

    return {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": env.str("FILES_BUCKET"),
            "endpoint_url": env.str("FILES_ENDPOINT_URL", default="") or None,
            "region_name": env.str("FILES_REGION", default="") or None,
            "access_key": env.str("FILES_ACCESS_KEY", default="") or None,
            "secret_key": env.str("FILES_SECRET_KEY", default="") or None,
            "querystring_expire": env.int("FILES_LINK_SECONDS", default=60),
            "file_overwrite": False,
            # A page or a worker waits seconds for the store, not minutes; workers try again later.
            "client_config": Config(
                signature_version="s3v4",
                connect_timeout=5,
                read_timeout=20,
                retries={"max_attempts": 1},
            ),
        },
    }
