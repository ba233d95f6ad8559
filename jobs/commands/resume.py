"""`resume`: go on with a run where it stopped."""

from __future__ import annotations

from boilerfront.jobs.commands import options as opt


def resume(
    run: opt.Run,
    runs: opt.Runs = None,
    budget: opt.Budget = None,
    workers: opt.Workers = None,
    cluster: opt.Cluster = None,
    tls: opt.Tls = None,
    without_tls: opt.WithoutTls = False,
    dashboard: opt.Dashboard = False,
    at: opt.At = None,
    until: opt.Until = None,
    quiet: opt.Quiet = False,
) -> None:
    """Go on with a run where it stopped; more budget goes on as if asked for at once."""
    from boilerfront.jobs.cluster import Where
    from boilerfront.jobs.launch import Means, Options
    from boilerfront.jobs.launch import resume as resume_run
    from boilerfront.jobs.progress import Teller

    where = Where(workers or 0, cluster, tls, encrypted=not without_tls, dashboard=dashboard)
    means = Means(teller=Teller(quiet=quiet))
    ended = resume_run(
        opt.chosen_run(run, runs), options=Options(where, at=at, until=until, budget=budget), means=means
    )
    verb = "query" if ended.outcome == "finished" else "resume"
    means.teller.say(f"next: boilerfront {verb} {ended.run.path}")
