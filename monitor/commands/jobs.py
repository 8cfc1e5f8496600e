"""The jobs of the house as `laidup status` shows them: last, how long, with what result, next."""

from collections.abc import Sequence

from rich.table import Table

from monitor.commands.printing import print_table
from monitor.health.telling import account_socket, ask_daemon
from monitor.phrases.own_condition import JOB_NAME
from monitor.settings.load import Settings
from monitor.store.store import Store
from monitor.wording import Wording, span_in_words
from monitor.yard.health import JobState

_SECONDS_UNTIL = 100.0


def job_states(settings: Settings, store: Store) -> tuple[JobState, ...]:
    """As the running daemon has them; where none runs or answers, the last runs it kept."""
    try:
        account = ask_daemon(account_socket(settings.store_url, settings.file))
    except TimeoutError:
        account = None
    if account is not None:
        return account.jobs
    with store.snapshot() as tx:
        return tuple(JobState(job=job, last=run) for job, run in tx.job_runs.last_runs().items())


def print_jobs(states: Sequence[JobState], words: Wording) -> None:
    """One row a job; nothing where none ever ran."""
    if not states:
        return
    table = Table(title="Jobs", title_justify="left")
    for heading in ("Job", "Last", "Took", "Result", "Next"):
        table.add_column(heading, overflow="fold")
    for state in states:
        table.add_row(*_row(state, words))
    print_table(table)


def _row(state: JobState, words: Wording) -> tuple[str, str, str, str, str]:
    last, name = state.last, JOB_NAME[state.job]
    if state.running_s is not None:
        due = f"runs, for {_span(state.running_s)} so far"
    else:
        due = words.clock(state.next_at) if state.next_at else "when laidup runs"
    result = state.problem or "done"
    if last is None:
        return f"{name[:1].upper()}{name[1:]}", "never", "", state.problem, due
    if not state.problem and last.problem:
        result = f"failed: {last.problem}"
    return (
        f"{name[:1].upper()}{name[1:]}",
        words.clock(last.began_at),
        _span(last.took_s),
        result,
        due,
    )


def _span(seconds: float) -> str:
    if seconds < 1.0:
        return "under 1 s"
    return f"{seconds:.0f} s" if seconds < _SECONDS_UNTIL else span_in_words(seconds)
