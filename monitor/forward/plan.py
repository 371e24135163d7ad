"""What is forwarded to where, and how fast; out of the settings of the bench."""

from dataclasses import dataclass
from pathlib import Path

from monitor.base.errors import WrongUse
from monitor.settings import Bench


@dataclass(frozen=True, slots=True)
class ForwardPlan:
    """Where the points go.

    Parameters
    ----------
    url, org, bucket
        The server, and the names that it knows the place by.
    site, bench
        Tags of every point.
    gzip
        Whether lines are packed on the way.
    back_fill_points_per_s
        How fast what lies back is sent at the most.
    token_file, token_env
        Where the token is kept; see `read_token`.
    """

    url: str
    org: str
    bucket: str
    site: str
    bench: str
    gzip: bool = True
    back_fill_points_per_s: float = 25_000.0
    token_file: Path | None = None
    token_env: str | None = None

    @property
    def place(self) -> str:
        """Names the place in the store: another one is sent everything from the beginning."""
        return f"{self.url} org={self.org} bucket={self.bucket}"


def plan_of(bench: Bench) -> ForwardPlan | None:
    """The plan of a bench; None where its settings do not ask for forwarding."""
    forward = bench.forward
    if forward.url is None:
        return None
    if forward.bucket is None:
        raise WrongUse("forward.bucket is missing in [forward]")
    return ForwardPlan(
        url=forward.url,
        org=forward.org,
        bucket=forward.bucket,
        site=forward.site,
        bench=forward.bench,
        gzip=forward.gzip,
        back_fill_points_per_s=forward.back_fill_points_per_s,
        token_file=forward.token_file,
        token_env=forward.token_env,
    )
