"""``dewgap doctor``: look whether all that is needed works here."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli.exit_status import ExitStatus
from windows.cli.options import CacheDir, Json

__all__ = ["doctor"]


def doctor(
    no_network: Annotated[
        bool, typer.Option("--no-network", help="Leave out whether services answer.")
    ] = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Look whether all that is needed works here, and tell how to mend what does not.

    Exit status 1 if something that is needed does not work. No key is shown.

    Example: dewgap doctor --no-network
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.doctor import examine
    from windows.finding import State, worst

    with busy("looking" if no_network else "asking the services"):
        found = examine(network=not no_network, cache_dir=cache_dir)
    state = worst(found)
    status = ExitStatus.ERROR if state is State.FAULT else ExitStatus.DONE
    if as_json:
        print_json(
            {
                "state": state,
                "findings": [
                    {"what": f.what, "state": f.state, "told": f.told, "mend": f.mend or None}
                    for f in found
                ],
            }
        )
        raise typer.Exit(status)
    for each in found:
        line(f"{each.state.upper():<6} {each.what}: {each.told}")
        if each.mend:
            line(f"       {each.mend}")
    line()
    line(_CLOSING[state])
    raise typer.Exit(status)


_CLOSING = {
    "ok": "All is well.",
    "look": "All that is needed works; look at what is marked.",
    "fault": "Something that is needed does not work: mend what is marked FAULT.",
}
