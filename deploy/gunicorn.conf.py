"""gunicorn, for ``gunicorn --config deploy/gunicorn.conf.py 'service:create_app()'``.

Whatever is set here can be set otherwise by GUNICORN_CMD_ARGS.
"""

import gc
import importlib
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

from gunicorn import glogging

from service.front import scratch, worker
from service.logs import JSONFormatter

bind = os.environ.get("WAVESETUP_BIND", "127.0.0.1:8000")

# A request is pure computation of a few milliseconds, so a worker a core. Threads would not help.
# One process more, the front, holds the connections; DEVELOPERS.md says why, with figures.
worker_class = "service.front.worker.Worker"
workers = 1 + int(os.environ.get("WEB_CONCURRENCY", str(min(os.cpu_count() or 1, 4))))

# The front tells a worker who asks. Nothing else that a peer says of itself is believed.
proxy_protocol = True
forwarder_headers = ""
secure_scheme_headers = {}
forwarded_allow_ips = ""
backlog = 2048

# Each worker builds its own rule engine, at its first request (a few ms): nothing of the engine
# crosses a fork. So nothing is gained by preloading, and a reload takes up new code without it.
preload_app = False

# A request that takes longer than WAVESETUP_BUDGET (10 s) is answered with 503 by the worker.
# This is for one that hangs where Python cannot interrupt it: then the connection is closed.
timeout = 30
graceful_timeout = 20  # longer than any request may take

# A worker whose memory is fragmented, or in which a library leaks, does not live for ever. Over
# 108,000 requests for advice it stayed at 169 MB; ``deploy/bench.sh --requests`` watches that.
max_requests = 100_000
max_requests_jitter = 10_000

# A worker is one thread: numpy's own would only take the processor from the other workers.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The heartbeat file must not wait for a disk.
worker_tmp_dir = str(scratch.place())

# Nothing here uses the control socket, and two instances would share its path.
control_socket_disable = True

errorlog = "-"
loglevel = "warning"
# The application writes a line for every request itself; gunicorn's would have whole addresses.
accesslog = None


class logger_class(glogging.Logger):  # noqa: N801  # the setting's name
    """gunicorn's messages in the same form as the application's."""

    def setup(self, cfg):  # noqa: ANN001, ANN201
        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(JSONFormatter())


# Long work is done by processes of their own, so many at once; 0 where another program does it:
# flask --app service jobs work
_jobs = int(os.environ.get("WAVESETUP_JOBS", "1"))


def _start_jobs(server):  # noqa: ANN001, ANN202
    command = ["-m", "flask", "--app", "service", "jobs", "work", "--processes", str(_jobs)]
    environment = {
        name: value for name, value in os.environ.items() if name != "PROMETHEUS_MULTIPROC_DIR"
    }
    # Of the server, not of this file: a reload reads the file again.
    server.jobs = subprocess.Popen([sys.executable, *command], env=environment)


def _keep_jobs_going(server):  # noqa: ANN001, ANN202
    while True:
        server.jobs.wait()
        time.sleep(1)
        _start_jobs(server)


def when_ready(server):  # noqa: ANN001, ANN201
    """It ends by itself when this process does; killed, it is started again."""
    if _jobs:
        _start_jobs(server)
        threading.Thread(target=_keep_jobs_going, args=(server,), daemon=True).start()


def _stop_jobs(server):  # noqa: ANN001, ANN202
    if (process := getattr(server, "jobs", None)) is not None:
        process.terminate()


def on_reload(server):  # noqa: ANN001, ANN201
    """New code for long work too."""
    worker.replace(server)
    _stop_jobs(server)


def on_starting(server):  # noqa: ANN001, ANN201, ARG001
    """Each worker counts in files of its slot; whoever is asked for metrics adds them up.

    What an earlier run counted in a folder that was set is gone, as with any counter.

    What others wrote is imported here once: so a worker that takes another's place is ready in half
    the time, while a reload still takes up new code of this project.
    """
    for module in ("flask_smorest", "sqlalchemy.orm", "alembic.command", "pint", "scipy.optimize",
                   "scipy.spatial", "durable_rules_engine", "prometheus_client",
                   "redis", "yaml"):  # fmt: skip
        importlib.import_module(module)
    folder = Path(os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", str(scratch.folder())))
    for file in folder.glob("*.db"):
        file.unlink()


def on_exit(server):  # noqa: ANN001, ANN201
    _stop_jobs(server)
    scratch.remove()


pre_fork = worker.assign


def post_request(worker, req, environ, resp):  # noqa: ANN001, ANN201, ARG001
    """A worker that was broken off in the middle of something is replaced."""
    if environ.get("wavesetup.budget_spent"):
        worker.alive = False


def post_worker_init(worker):  # noqa: ANN001, ANN201
    """What the first request, or any later one, would have to wait for.

    The rules are read. What is there by now stays: were it looked through for garbage each time,
    one request in some 700 would take a tenth of a second longer.
    """
    if worker.is_front:
        return
    import rules  # noqa: PLC0415

    rules.load()
    gc.collect()
    gc.freeze()
