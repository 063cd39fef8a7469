"""The figures of what the service stands on: the broker's queues and the disk."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

from django.conf import settings
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from showrun.project.metrics.show_day import gauge
from showrun.shows.web.standing import queue_lengths

QUEUES = ("default", "urgent", "bulk", "plans")


class Machine(Collector):
    """Asks the broker once, for no longer than a probe may take."""

    def collect(self) -> Iterator[Metric]:
        """Yield every figure."""
        lengths = queue_lengths(QUEUES)
        up = lengths is not None
        yield gauge("showrun_broker_up", "Whether the broker answers: 1 or 0.", up)
        told = GaugeMetricFamily(
            "showrun_queue_length", "Tasks that wait in a queue of the broker.", labels=["queue"]
        )
        for queue, length in (lengths or {}).items():
            told.add_metric([queue], length)
        yield told
        free = shutil.disk_usage(settings.DATA).free
        yield gauge("showrun_data_free_bytes", "Bytes left on the disk of SHOWRUN_DATA.", free)
