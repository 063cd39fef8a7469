"""The container files name only what the project has. (They are not built here.)"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.conf import settings
from django.core.management import get_commands

from judging.tasks import plan_job_task
from reports.models import Paper
from reports.rules.queues import queue_of

ROOT = Path(__file__).resolve().parents[2]
DOCKERFILE = (ROOT / "docker/Dockerfile").read_text()
SETTINGS = "".join(
    path.read_text() for path in sorted((ROOT / "showrun/project/settings").glob("*.py"))
)


@pytest.fixture
def services() -> dict[str, Any]:
    """The services that compose.yaml starts."""
    loaded: dict[str, Any] = yaml.safe_load((ROOT / "docker/compose.yaml").read_text())["services"]
    return loaded


def copied() -> set[str]:
    """Return what the Dockerfile copies from the project."""
    lines = re.findall(r"^COPY (?!--from)(.+) \S+$", DOCKERFILE, re.MULTILINE)
    return {name.rstrip("/") for line in lines for name in line.split()}


def test_everything_copied_is_there() -> None:
    assert {"manage.py", "requirements.lock", "showrun"} <= copied()
    assert [name for name in copied() if not (ROOT / name).exists()] == []


def test_every_app_is_copied() -> None:
    apps = {path.parent.name for path in ROOT.glob("*/apps.py")}
    assert len(apps) >= 3
    assert apps <= copied()


def test_the_image_needs_no_venv_and_no_rights() -> None:
    assert "SHOWRUN_NO_VENV=1" in DOCKERFILE
    assert re.search(r"^USER (?!root)", DOCKERFILE, re.MULTILINE)
    assert "/healthz" in DOCKERFILE


def test_the_image_brings_every_library_the_papers_need() -> None:
    message = (ROOT / "manage.py").read_text()
    packages = re.search(r"apt install ((?:lib\S+ )+)", message)
    assert packages is not None
    assert [name for name in packages[1].split() if name not in DOCKERFILE] == []


def test_every_variable_is_one_the_settings_read(services: dict[str, Any]) -> None:
    known = set(re.findall(r'env\.\w+\(\s*"(\w+)"', SETTINGS))
    given = set(services["web"]["environment"])
    assert given
    assert given <= known
    table = re.findall(r"^\| (`.+?`) \|", (ROOT / "docker/README.md").read_text(), re.MULTILINE)
    documented = set(re.findall(r"`(\w+)`", " ".join(table)))
    assert given <= documented
    assert documented <= known | {"DJANGO_SETTINGS_MODULE", "PROMETHEUS_MULTIPROC_DIR"}


def test_every_queue_has_a_worker(services: dict[str, Any]) -> None:
    commands = [service.get("command", []) for service in services.values()]
    given = [command[command.index("-Q") + 1] for command in commands if "-Q" in command]
    served = {queue for queues in given for queue in queues.split(",")}
    used = {queue_of(kind) for kind in Paper.Kind.values}
    used |= set(re.findall(r'"queue": "(\w+)"', SETTINGS))
    used |= set(re.findall(r'TASK_DEFAULT_QUEUE = "(\w+)"', SETTINGS))
    assert used == served


def test_work_waits_for_the_migration(services: dict[str, Any]) -> None:
    for name in ("web", "worker-default", "worker-bulk", "worker-plans", "beat"):
        condition = services[name]["depends_on"]["migrate"]["condition"]
        assert condition == "service_completed_successfully"


# -- what keeps them safe, and lets them end in peace --------------------------------------------

KUBERNETES = sorted((ROOT / "docker/kubernetes").glob("*.yaml"))
TASK_S = int(settings.CELERY_TASK_TIME_LIMIT)
PLAN_S = int(plan_job_task.time_limit or 0)


def seconds(text: str) -> int:
    """Read a time such as 180s."""
    found = re.fullmatch(r"(\d+)s", text)
    assert found, text
    return int(found[1])


def longest_task(command: list[str]) -> int:
    """How long a worker of these queues may have something in hand [s]."""
    if "-Q" not in command:
        return 0
    return PLAN_S if "plans" in command[command.index("-Q") + 1] else TASK_S


def objects(kind: str) -> dict[str, Any]:
    """The objects of a kind in all manifests, by name."""
    texts = [path.read_text() for path in KUBERNETES]
    every = [one for text in texts for one in yaml.load_all(text, yaml.CSafeLoader)]
    return {one["metadata"]["name"]: one for one in every if one["kind"] == kind}


def pods() -> dict[str, Any]:
    """What each workload starts, by its name."""
    found = {name: one["spec"]["template"] for name, one in objects("Deployment").items()}
    found |= {name: one["spec"]["template"] for name, one in objects("Job").items()}
    jobs = objects("CronJob").items()
    return found | {name: one["spec"]["jobTemplate"]["spec"]["template"] for name, one in jobs}


def test_the_image_is_made_in_two_stages_from_one_pinned_base() -> None:
    bases = re.findall(r"^FROM (\S+) AS \w+$", DOCKERFILE, re.MULTILINE)
    assert bases == ["${PYTHON_IMAGE}"] * 2
    base = re.search(
        r"^ARG PYTHON_IMAGE=python:(\d+\.\d+\.\d+)-slim-\w+$", DOCKERFILE, re.MULTILINE
    )
    assert base, "a whole version, which its digest can be written behind"
    assert DOCKERFILE.index("pip install") < DOCKERFILE.index(" AS run")
    assert "HEALTHCHECK" in DOCKERFILE


def test_every_other_image_has_a_tag_of_its_own(services: dict[str, Any]) -> None:
    named = {service["image"] for service in services.values()}
    named |= {one["spec"]["containers"][0]["image"] for one in pods().values()}
    assert len(named) >= 5
    assert [name for name in named if not re.search(r":(local$|v?\d+\.\d+)", name)] == []


def test_the_programs_for_backups_are_of_the_servers_series(services: dict[str, Any]) -> None:
    client = re.search(r"postgresql-client-(\d+)", DOCKERFILE)
    server = re.match(r"postgres:(\d+)", services["postgres"]["image"])
    assert client
    assert server
    assert int(client[1]) >= int(server[1])


def test_our_containers_write_nothing_and_gain_no_rights(services: dict[str, Any]) -> None:
    ours = {name: one for name, one in services.items() if one["image"].startswith("showrun")}
    assert len(ours) == 6
    for one in [*ours.values(), services["proxy"]]:
        assert one["read_only"] is True
        assert one["cap_drop"] == ["ALL"]
        assert one["security_opt"] == ["no-new-privileges:true"]


def test_only_the_proxy_is_reached_and_it_keeps_figures_inside(services: dict[str, Any]) -> None:
    assert [name for name, one in services.items() if "ports" in one] == ["proxy"]
    proxy = (ROOT / "docker/Caddyfile").read_text()
    assert "reverse_proxy web:8000" in proxy
    assert re.search(r"@inside path .*/metrics", proxy)
    assert "./Caddyfile:/etc/caddy/Caddyfile:ro" in services["proxy"]["volumes"]


def test_a_stop_waits_longer_than_the_longest_task(services: dict[str, Any]) -> None:
    graceful = re.search(r'"--graceful-timeout", "(\d+)"', DOCKERFILE)
    assert graceful
    assert seconds(services["web"]["stop_grace_period"]) > int(graceful[1])
    workers = {name: one for name, one in services.items() if name.startswith("worker")}
    assert len(workers) == 3
    for one in workers.values():
        assert seconds(one["stop_grace_period"]) > longest_task(one["command"]) > 0
    for name, pod in pods().items():
        command = pod["spec"]["containers"][0].get("command", [])
        if "worker" in name:
            assert pod["spec"]["terminationGracePeriodSeconds"] > longest_task(command) > 0
    web = pods()["showrun-web"]["spec"]
    waits = int(web["containers"][0]["lifecycle"]["preStop"]["exec"]["command"][1])
    assert web["terminationGracePeriodSeconds"] > int(graceful[1]) + waits


@pytest.mark.parametrize("name", sorted(pods()))
def test_a_pod_has_no_rights_and_names_no_secret(name: str) -> None:
    spec = pods()[name]["spec"]
    assert spec["securityContext"]["runAsNonRoot"] is True
    assert spec["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert spec["automountServiceAccountToken"] is False
    (container,) = spec["containers"]
    user = re.search(r"^USER (\d+)$", DOCKERFILE, re.MULTILINE)
    assert user
    assert spec["securityContext"]["runAsUser"] == int(user[1])
    held = container["securityContext"]
    assert held["readOnlyRootFilesystem"] is True
    assert held["allowPrivilegeEscalation"] is False
    assert held["capabilities"] == {"drop": ["ALL"]}
    assert {"cpu", "memory"} <= set(container["resources"]["requests"])
    assert "memory" in container["resources"]["limits"]
    assert {"secretRef": {"name": "showrun"}} in container["envFrom"]
    volumes = {one["name"] for one in spec["volumes"]}
    assert {one["name"] for one in container["volumeMounts"]} == volumes
    known = set(re.findall(r'env\.\w+\(\s*"(\w+)"', SETTINGS)) | {"POD_IP"}
    assert {one["name"] for one in container["env"]} <= known


def test_no_secret_is_in_a_manifest() -> None:
    assert objects("Secret") == {}
    given = set(objects("ConfigMap")["showrun"]["data"])
    assert given <= set(re.findall(r'env\.\w+\(\s*"(\w+)"', SETTINGS))
    assert not given & {"SECRET_KEY", "DATABASE_URL", "METRICS_TOKEN", "FILES_SECRET_KEY"}


def test_every_queue_has_a_pod_and_there_is_one_beat() -> None:
    commands = [pod["spec"]["containers"][0].get("command", []) for pod in pods().values()]
    served = {q for one in commands if "-Q" in one for q in one[one.index("-Q") + 1].split(",")}
    assert served == {"default", "urgent", "bulk", "plans"}
    beat = objects("Deployment")["showrun-beat"]["spec"]
    assert (beat["replicas"], beat["strategy"]["type"]) == (1, "Recreate")


def test_the_objects_of_the_cluster_point_at_each_other() -> None:
    workloads = objects("Deployment")
    for name, one in workloads.items():
        labels = one["spec"]["template"]["metadata"]["labels"]
        assert one["spec"]["selector"]["matchLabels"] == labels, name
    web = workloads["showrun-web"]["spec"]["template"]
    labels, (container,) = web["metadata"]["labels"], web["spec"]["containers"]
    service = objects("Service")["showrun-web"]["spec"]
    assert service["selector"] == labels
    assert {one["name"] for one in container["ports"]} == {service["ports"][0]["targetPort"]}
    rule = objects("Ingress")["showrun-web"]["spec"]["rules"][0]["http"]["paths"][0]
    assert rule["backend"]["service"] == {"name": "showrun-web", "port": {"name": "http"}}
    assert objects("PodDisruptionBudget")["showrun-web"]["spec"]["selector"] == {
        "matchLabels": labels
    }
    for scaler in objects("HorizontalPodAutoscaler").values():
        assert scaler["spec"]["scaleTargetRef"]["name"] in workloads
    assert len(objects("HorizontalPodAutoscaler")) == 2
    closed = objects("NetworkPolicy")["showrun-closed"]["spec"]
    assert closed["policyTypes"] == ["Ingress", "Egress"]
    assert "ingress" not in closed
    for probe, path in (("livenessProbe", "/healthz"), ("readinessProbe", "/readyz")):
        assert container[probe]["httpGet"] == {"path": path, "port": "http"}


def test_commands_in_the_manifests_exist() -> None:
    for pod in pods().values():
        command = pod["spec"]["containers"][0].get("command", [])
        if "manage.py" in command:
            assert command[command.index("manage.py") + 1] in get_commands()
