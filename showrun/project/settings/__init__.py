"""Settings, all of them by environment; the defaults run the demo on one machine.

Production values are in `production.py`, which only tightens what is said here.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import environ
from csp.constants import NONE, SELF

from showrun.project.settings.counts import counts_in
from showrun.project.settings.faults import report_faults, version_of
from showrun.project.settings.files import bucket_storage
from showrun.project.settings.keys import kept_key
from showrun.project.settings.log import logging_config
from showrun.project.settings.papers import paper_size

env = environ.Env()

# Read by numpy when it is first imported: the tables are small, several processes share the
# processors, and threads that wait for each other make them many times slower.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

ROOT = Path(__file__).resolve().parents[3]
DATA = Path(env.str("SHOWRUN_DATA", default=str(ROOT / ".data")))
DATA.mkdir(parents=True, exist_ok=True)


def _secret_key() -> str:
    """Take the key from the environment, or keep one beside the data of this machine."""
    given = str(env.str("SECRET_KEY", default=""))
    if given:
        return given
    return kept_key(DATA / "secret_key")


SECRET_KEY = _secret_key()
DEBUG = env.bool("DEBUG", default=False)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

# How many proxies of ours a request comes through: whose word about its sender is taken.
PROXIES_BEFORE = env.int("PROXIES_BEFORE", default=0)

# Who may plan shows, beside those who run the office of one already: their e-mail addresses.
SHOW_PLANNERS = env.list("SHOW_PLANNERS", default=[])

INSTALLED_APPS = [
    "showrun.project",
    "showrun.shows",
    "entries",
    "judging",
    "reports",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_structlog",
    "csp",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "showrun.shows.web.visitor.VisitorMiddleware",
    "showrun.project.metrics.counted.CountingMiddleware",
    "django.middleware.security.SecurityMiddleware",
    # Before the one that serves files: those carry the same headers.
    "csp.middleware.CSPMiddleware",
    "showrun.shows.web.headers.HeadersMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # After files, which are the same in every language, and before all that says something.
    "showrun.shows.web.language.LanguageMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "showrun.shows.web.request_log.PathLogMiddleware",
    "showrun.shows.web.error_title.ErrorTitleMiddleware",
    "showrun.shows.web.refusals.RefusalMiddleware",
]

ROOT_URLCONF = "showrun.project.urls"
WSGI_APPLICATION = "showrun.project.wsgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "showrun.shows.web.way_back.with_way_back",
            ],
        },
    }
]

# --- Data -----------------------------------------------------------------------------
DATABASES: dict[str, dict[str, Any]] = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{DATA / 'show.sqlite3'}")
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # IMMEDIATE takes the write lock at BEGIN, so writers wait instead of failing half way, and
    # for a minute: SQLite's queue is not fair, and a rush for the last places takes a while;
    # FULL because an acknowledged mark must survive a generator cut.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 60,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        ),
    }
    # Whoever closes last takes the log away, and on a full disk nobody could begin a new one, not
    # even to read: each thread stays connected.
    DATABASES["default"]["CONN_MAX_AGE"] = None
else:
    DATABASES["default"]["CONN_MAX_AGE"] = env.int("DATABASE_CONN_MAX_AGE", default=60)
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# What limits are counted in. Without a Redis each web process counts for itself.
CACHE_URL = env.str("CACHE_URL", default="")
CACHES: dict[str, dict[str, Any]] = counts_in(CACHE_URL)

MEDIA_ROOT = DATA / "files"
STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Papers and photos lie in a private bucket of a store that speaks the S3 protocol, if one is named.
FILES_BUCKET = env.str("FILES_BUCKET", default="")
if FILES_BUCKET:
    STORAGES["default"] = bucket_storage(env)
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG

# --- People ---------------------------------------------------------------------------
AUTH_USER_MODEL = "shows.Person"
AUTHENTICATION_BACKENDS = [
    "django.contrib.auth.backends.ModelBackend",
    "sesame.backends.ModelBackend",
]
# A sign-in link works once and for a short while; opening it shows a button, so that a
# mail program looking at the link does not use it up.
SESAME_ONE_TIME = True
SESAME_MAX_AGE = env.int("SIGN_IN_LINK_SECONDS", default=24 * 3600)
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/"
# A week after signing in one signs in again; reading pages does not put it off.
SESSION_COOKIE_AGE = 7 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True  # scripts take the token from their form
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
vars().update(env.email_url("EMAIL_URL", default="consolemail://"))
EMAIL_TIMEOUT = 20  # [s]; somebody waits for the page meanwhile
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="office@showrun.example")

# --- What a page may load: our own files and nothing else -----------------------------
# No page has a script or a style inside, so the policy allows none, and no nonce: one that a
# phone keeps with its page would be used again and again.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"

# --- API ------------------------------------------------------------------------------
# How often a program may ask, by person; phones that bring marks are never counted.
API_REQUESTS_PER_MINUTE = env.int("API_REQUESTS_PER_MINUTE", default=1200)
# Whose a code is, and pairing by it, count together: both try codes.
PAIRING_TRIES_PER_MINUTE = env.int("PAIRING_TRIES_PER_MINUTE", default=60)
REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["showrun.shows.api.parsers.PlainJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "showrun.shows.api.described.Described",
    "EXCEPTION_HANDLER": "showrun.shows.api.problems.problem_details",
    "DEFAULT_THROTTLE_CLASSES": ["showrun.shows.api.throttles.PersonThrottle"],
    "DEFAULT_THROTTLE_RATES": {
        "pairing": f"{PAIRING_TRIES_PER_MINUTE}/min",
        "sign-in": "10/min",
        "photos": "120/min",
        "program": f"{API_REQUESTS_PER_MINUTE}/min",
    },
    "URL_FORMAT_OVERRIDE": None,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Show service",
    "DESCRIPTION": (
        "Everything a device or another program needs to run a chuckwagon show. Times are RFC "
        "3339 with an offset, money is whole cents, lengths are feet. Refusals are problem "
        "details (RFC 9457); any address answers 405 to a method it does not have. "
        "The guide beside this file says more: showrun/shows/api/README.md."
    ),
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "LICENSE": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
    "SERVERS": [{"url": "/", "description": "The service that gave you this."}],
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "showrun.shows.api.described.share_refusals",
    ],
    "TAGS": [
        {"name": "shows", "description": "Shows and their classes; who is asking."},
        {"name": "entries", "description": "Who comes, with what; places and spots."},
        {"name": "scorecards", "description": "Cards, and how a class is judged."},
        {"name": "judges", "description": "Judges, conflicts, phones to pair, the panel."},
        {"name": "window", "description": "The judging window, the day's rules, plans."},
        {"name": "round", "description": "What a judge's phone calls."},
        {"name": "questions", "description": "What waits for the office, and how judging stands."},
        {"name": "food", "description": "Blind food rounds."},
        {"name": "results", "description": "From marks to signed and released results."},
        {"name": "papers", "description": "Award sheets, feedback and the like."},
    ],
    "ENUM_NAME_OVERRIDES": {  # names for sets that several shapes call a state or a form
        "FormEnum": "judging.api.round_shapes.FORMS",
        "MarkStateEnum": "judging.api.round_shapes.MARK_STATES",
        "RigReportStateEnum": "judging.api.round_shapes.RIG_REPORT_STATES",
    },
}

# --- Workers --------------------------------------------------------------------------
BROKER_URL = env.str("BROKER_URL", default="redis://127.0.0.1:6379/0")
CELERY_BROKER_URL = BROKER_URL
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_MAX_TASKS_PER_CHILD = 50
CELERY_WORKER_MAX_MEMORY_PER_CHILD = 400_000  # KiB
CELERY_TASK_SOFT_TIME_LIMIT = 120
CELERY_TASK_TIME_LIMIT = 150
CELERY_TASK_DEFAULT_QUEUE = "default"
# Which of the two queues of papers a paper waits in: `reports/rules/queues.py`.
CELERY_TASK_ROUTES = {
    "reports.tasks.draw_paper_task": {"queue": "bulk"},
    "judging.tasks.plan_job_task": {"queue": "plans"},
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# Longer than the longest hard limit, so that no running task is handed out twice; the
# restore scan otherwise waits ten times ten seconds before it looks.
# A worker of several queues empties them in the order it was given them: urgent before bulk.
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 900,
    "unacked_restore_throttle": 1,
    "queue_order_strategy": "priority",
}
# A paper whose worker vanished is drawn again by the sweep; it must come often enough
# that an award at three o'clock does not wait for it.
CELERY_BEAT_SCHEDULE = {
    "draw-wanted-papers": {"task": "reports.tasks.sweep_papers", "schedule": 20.0},
    "look-for-wanted-plans": {"task": "judging.tasks.sweep_plan_jobs", "schedule": 10.0},
    "release-due-results": {"task": "judging.tasks.release_due_results", "schedule": 30.0},
    "sweep-offered-places": {"task": "entries.tasks.sweep_offers", "schedule": 30.0},
}
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA / "beat-schedule")

# --- Papers ---------------------------------------------------------------------------
# Printed before the address at which a paper's code is checked.
PUBLIC_URL = env.str("PUBLIC_URL", default="")
PAPER_SIZE = paper_size(env.str("PAPER_SIZE", default="letter"))
PAPER_CLAIM_SECONDS = env.int("PAPER_CLAIM_SECONDS", default=180)

# --- Money ----------------------------------------------------------------------------
# The class that speaks to a payment provider; without one nobody can pay online.
PAYMENT_PROVIDER = env.str("PAYMENT_PROVIDER", default="")

# --- Who watches ----------------------------------------------------------------------
# With a token /metrics is there, and each web process counts in a file of its own in this folder.
METRICS_TOKEN = env.str("METRICS_TOKEN", default="")
if METRICS_TOKEN:
    os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", str(DATA / "metrics"))
    Path(os.environ["PROMETHEUS_MULTIPROC_DIR"]).mkdir(parents=True, exist_ok=True)

SENTRY_DSN = env.str("SENTRY_DSN", default="")
if SENTRY_DSN:
    report_faults(
        dsn=SENTRY_DSN,
        release=env.str("SENTRY_RELEASE", default="") or f"showrun@{version_of(ROOT)}",
        environment=env.str("SENTRY_ENVIRONMENT", default="production"),
    )

# --- Words, time, logs ----------------------------------------------------------------
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
# The office's pages in one language until its words are translated; "" lets them follow the reader.
OFFICE_LANGUAGE = "en"
FORMAT_MODULE_PATH = ["showrun.project.formats"]
LANGUAGE_COOKIE_NAME = "language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True
LOGGING = logging_config(env.str("LOG_LEVEL", default="INFO"))
