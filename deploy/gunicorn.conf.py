"""gunicorn, for ``gunicorn --config deploy/gunicorn.conf.py 'service:create_app()'``.

Whatever is set here can be set otherwise by GUNICORN_CMD_ARGS.
"""

import os
from pathlib import Path

bind = os.environ.get("WAVESETUP_BIND", "127.0.0.1:8000")

# A request is pure computation of a few milliseconds, so a worker a core. Threads would not help,
# and with keep-alive they let one worker hold every connection (measured: half the throughput).
worker_class = "sync"
workers = int(os.environ.get("WEB_CONCURRENCY", str(min(os.cpu_count() or 1, 4))))

# Each worker builds its own rule engine, at its first request (a few ms): nothing of the engine
# crosses a fork. So nothing is gained by preloading, and a reload takes up new code without it.
preload_app = False

# After a MemoryError of the engine the worker lets itself go; a request that hangs is cut off.
timeout = 30
graceful_timeout = 10

# The heartbeat file must not wait for a disk.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108

# Nothing here uses the control socket, and two instances would share its path.
control_socket_disable = True

errorlog = "-"
loglevel = "warning"
