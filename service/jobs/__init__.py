"""Long work in processes of its own: it can be waited for, watched, stopped and killed.

The queue is a table of the store, see :mod:`service.jobs.queue`; the processes are
:mod:`service.jobs.worker`. Neither knows what the work is: whoever starts the worker says how a
:class:`Task` is done.
"""
