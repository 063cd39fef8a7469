"""One JSON line an event, with the request's and the person's ids, no names."""

from __future__ import annotations

import logging
import sys
from typing import Any

import structlog

NOT_MAILED = " could not be mailed"
COUNTED = "showrun.project.metrics.counted"


class CountsLostMail(logging.Filter):
    """Counts a mail that failed, in a process that counts: the web server's."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every line pass."""
        told = record.msg.get("event") if isinstance(record.msg, dict) else record.msg
        if isinstance(told, str) and told.endswith(NOT_MAILED) and COUNTED in sys.modules:
            sys.modules[COUNTED].MAILS_FAILED.labels(told.removesuffix(NOT_MAILED)).inc()
        return True


_SHARED: list[Any] = [
    structlog.contextvars.merge_contextvars,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
]


def logging_config(level: str) -> dict[str, Any]:
    """Return the `logging` configuration; structlog is set up on the way."""
    structlog.configure(
        processors=[
            *_SHARED,
            structlog.stdlib.PositionalArgumentsFormatter(),
            structlog.processors.format_exc_info,
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "json": {
                "()": structlog.stdlib.ProcessorFormatter,
                "processor": structlog.processors.JSONRenderer(),
                "foreign_pre_chain": [*_SHARED, structlog.processors.format_exc_info],
            }
        },
        "filters": {"lost_mail": {"()": CountsLostMail}},
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler",
                "formatter": "json",
                "filters": ["lost_mail"],
            }
        },
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            # fontTools and WeasyPrint tell their every step at INFO
            "fontTools": {"level": "WARNING"},
            "weasyprint": {"level": "ERROR"},
            "httpx": {"level": "WARNING"},
        },
    }
