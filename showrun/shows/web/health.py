"""Is the process alive, and can it work?"""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked."""
    return JsonResponse({"status": "ok"})


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """The database answers and its tables are those this code expects."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return JsonResponse({"status": "no database"}, status=503)
    if waiting:
        return JsonResponse({"status": "migrations are waiting"}, status=503)
    return JsonResponse({"status": "ok"})
