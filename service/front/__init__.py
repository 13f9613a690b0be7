"""The front: reads whole requests from slow callers and hands them to workers.

One process of gunicorn's, without the application, holds every connection from outside. It reads
head and body against deadlines, queues what is complete, passes each request to a worker over a
private socket, and buffers the answer for a caller who reads slowly. Workers never wait for a
caller. The front neither changes nor trusts what it passes on: a connection to a worker carries
one request, so a request framed in two ways reaches nobody else.
"""

SLOT = "WAVESETUP_SLOT"
"""Environment variable of a worker: ``slot:pid``; a slot is a number no other living one has."""
