"""One command in several processes at once."""

import subprocess
import sys

# The processes are forks of one that has loaded what the command needs: they begin together, and
# do not each spend a second on loading.
_FORKS = """
import os, sys
import windows.field.enter, windows.field.lessons, windows.field.take_in, windows.reports.log_table
from windows.cli import main
from windows.site import load_site

count, folder, site, *words = sys.argv[1:]
load_site(site).zone  # loads the calendar of its holidays and the map of zones
children = []
for number in range(int(count)):
    child = os.fork()
    if not child:
        os.dup2(os.open(f"{folder}/told.{number}", os.O_WRONLY | os.O_CREAT), 1)
        sys.argv = ["dewgap", *words]
        try:
            main()
        except SystemExit as end:
            status = end.code or 0
        else:
            status = 0
        sys.stdout.flush()
        os._exit(status)  # to take all apart that was loaded would cost more than the command
    children.append(child)
print(*(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children))
"""


def at_once(count, folder, site, *words):
    """Run ``dewgap WORDS`` in so many processes; return their exit statuses and outputs.

    What they print is kept in ``folder``; ``site`` is the one that the words name.
    """
    command = [sys.executable, "-c", _FORKS, str(count), str(folder), str(site), *map(str, words)]
    told = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True, timeout=60)
    outputs = [(folder / f"told.{number}").read_text() for number in range(count)]
    return [int(status) for status in told.stdout.split()], outputs
