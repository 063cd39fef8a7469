"""The application of `tests.load.bare`: its two addresses and no middleware."""

from __future__ import annotations

from django.conf import settings
from django.core.wsgi import get_wsgi_application

settings.ROOT_URLCONF, settings.MIDDLEWARE = "tests.load.bare", []
application = get_wsgi_application()
