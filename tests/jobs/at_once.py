"""A queue for tests that carries a job out where it is enqueued, instead of beside the server."""

from concurrent.futures import Future

from webapp.jobs.job import Job, perform
from webapp.jobs.queue import Queue


class AtOnce(Queue):
    def enqueue(self, job: Job, run_id: int = 0) -> None:
        over: Future[None] = Future()
        try:
            over.set_result(perform(job, self._database.url, run_id))
        except Exception as error:
            over.set_exception(error)
        self._ended(job, run_id, over)
