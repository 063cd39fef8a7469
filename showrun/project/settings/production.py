"""Behind TLS on a real domain: every value that must not be defaulted is demanded here."""

from __future__ import annotations

from showrun.project.settings import *  # noqa: F403
from showrun.project.settings import BROKER_URL, CACHE_URL, env
from showrun.project.settings.counts import counts_in

SECRET_KEY = env.str("SECRET_KEY")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
DEBUG = False

SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", default=True)
# Asked from inside, where nobody speaks TLS.
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$", r"^metrics$"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", default=31_536_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
# No other name under the same domain can set these.
SESSION_COOKIE_NAME = "__Host-session"
CSRF_COOKIE_NAME = "__Host-csrf"
# Several web processes count together, in the broker where no other Redis is named.
CACHES = counts_in(CACHE_URL or BROKER_URL)
vars().update(env.email_url("EMAIL_URL", default="smtp://localhost:25"))
