"""What the tests change: quick password hashing, mail kept in memory."""

from __future__ import annotations

from showrun.project.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
# No test reaches a broker unless it starts one.
CELERY_BROKER_URL = "memory://"

# A migrated database to begin with, on PostgreSQL; the `test` command makes it once for a run.
if template := env.str("TEST_POSTGRES_TEMPLATE", default=""):  # noqa: F405
    DATABASES["default"]["TEST"] = {"TEMPLATE": template}  # noqa: F405

# Every test client begins a handler of its own, which would read all static files first.
WHITENOISE_AUTOREFRESH = True
