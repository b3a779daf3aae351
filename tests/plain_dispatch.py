"""A slow, plain reference for crews sent to sites: every plan of every site, and every crew.

It restates the words of the dispatch and of a site's problem with lists, dicts and loops, so that a
person can check it line by line. Nothing of the fast code is imported here, not even its count of
worth. Visits are (crew, site, shift), starts that are taken are (site, task, layer, place of the
start); a chain is what is laid on one piece: a start for each of its layers from the first on.
"""

from itertools import product

FAR = 10**8  # a moment that never comes: an opening that is not known, no deadline


# --- the rules of a site --------------------------------------------------------------------------


def chains(site, task):
    """Return every way to lay some layers on a piece, none at all among them.

    A chain is a tuple of places of starts, one a layer.
    """
    found = []

    def further(chain):
        if not chain or not task.choices[len(chain) - 1].must[chain[-1]]:
            found.append(chain)
        if len(chain) < len(task.choices):
            for at in range(len(task.choices[len(chain)].start)):
                if may_follow(site, task, chain, at):
                    further((*chain, at))

    further(())
    return found


def may_follow(site, task, chain, at):
    """Tell whether the next layer may be laid on those of a chain, whatever else is laid."""
    layer = len(chain)
    choice = task.choices[layer]
    start, shift = int(choice.start[at]), int(choice.shift[at])
    if start < site.problem.begin or site.day[shift] < 0:
        return False
    if not layer:
        return True
    below, on = task.choices[layer - 1], chain[-1]
    return (
        start >= below.start[on] + below.length + site.problem.move
        and start >= below.opens[on]
        and choice.hour_end[at] <= below.due[on]
        and (not task.same_shift[layer - 1] or below.shift[on] == shift)
    )


class Piece:
    """What a chain means: a list of (start, end, opens, shift, number of the layer)."""

    def __init__(self, site, number, chain):
        task = site.problem.tasks[number]
        self.number, self.task, self.chain = number, task, chain
        self.works = []
        for layer, at in enumerate(chain):
            choice = task.choices[layer]
            start = int(choice.start[at])
            self.works.append(
                (start, start + choice.length, int(choice.opens[at]), int(choice.shift[at]),
                 task.first + layer)
            )  # fmt: skip
        self.bare = bare_spans(site, task, self.works)


def bare_spans(site, task, works):
    """Return from when to when a piece lies bare; the end is None where nothing covers it."""
    spans, covered = [], None
    for (start, end, _, _, _), bare in reversed(list(zip(works, task.bare, strict=False))):
        if bare:
            spans.append((start, covered))
        covered = end
    if task.bare_now:
        spans.append((site.problem.begin, covered))
    return spans


def clash(site, one, other):
    """Tell whether two pieces cannot be laid like this on one site."""
    move = site.problem.move
    for a in one.works:
        for b in other.works:
            if a[0] < b[1] + move and b[0] < a[1] + move:
                return True
    return walks_over(one, other) or walks_over(other, one)


def walks_over(one, way):
    """Tell whether a crew on its way to a piece walks over a layer that is too fresh for it."""
    if way.number not in one.task.over:
        return False
    return any(laid[0] <= work[0] < laid[2] for work in one.works for laid in way.works)


def too_bare(site, pieces):
    """Tell whether more lies bare at some moment than may."""
    cap = site.problem.open_area
    if cap is None:
        return False
    for moment in [work[0] for piece in pieces for work in piece.works]:
        bare = 0
        for piece in pieces:
            if any(a <= moment and (b is None or moment < b) for a, b in piece.bare):
                bare += piece.task.area
        if bare > cap:
            return True
    return False


def who_can(problem, number, shift, works):
    """Return the crews that can lay all works of a shift of a site."""
    able = []
    for c, crew in enumerate(problem.crews):
        first, last = crew.first[number][shift], crew.last[number][shift]
        if all(
            crew.may[number][layer] and first <= start and end <= last
            for start, end, _, _, layer in works
        ):
            able.append(c)
    return able


# --- the best of all ------------------------------------------------------------------------------


def plans(problem, number):
    """Yield every plan of a site for whose shifts there is a crew: pieces, crews by shift."""
    site = problem.sites[number]
    ways = []
    for t, task in enumerate(site.problem.tasks):
        pieces = [Piece(site, t, chain) for chain in chains(site, task)]
        ways.append([piece for piece in pieces if able(problem, number, [piece]) is not None])

    def further(chosen):
        if len(chosen) == len(ways):
            if not too_bare(site, chosen):
                yield chosen, able(problem, number, chosen)
            return
        for piece in ways[len(chosen)]:
            if any(clash(site, piece, other) for other in chosen):
                continue
            more = [*chosen, piece]
            if able(problem, number, more) is not None:
                yield from further(more)

    yield from further([])


def able(problem, number, pieces):
    """Return the crews that can do each shift of a plan; None where one has no crew."""
    found = {}
    for piece in pieces:
        for work in piece.works:
            found.setdefault(work[3], []).append(work)
    for shift, works in found.items():
        found[shift] = who_can(problem, number, shift, works)
        if not found[shift]:
            return None
    return found


def site_ways(problem, number):
    """Return what the best plan of a site is worth with each set of its (day, crew).

    The worth has everything but the moves, which ask for the other sites.
    """
    site = problem.sites[number]
    best = {}
    for pieces, crews in plans(problem, number):
        worth = 0
        for piece in pieces:
            for layer, at in enumerate(piece.chain):
                worth += int(site.worth[piece.number][layer][at])
            if not piece.chain:
                worth -= site.missed[piece.number]
        shifts = sorted(crews)
        for sent in product(*(crews[shift] for shift in shifts)):
            who = dict(zip(shifts, sent, strict=True))
            value = worth - sum(problem.crews[c].visit[number] for c in sent)
            value -= problem.prices.change * broken(problem, number, pieces, who)
            key = tuple(sorted((site.day[shift], c) for shift, c in who.items()))
            if key not in best or best[key] < value:
                best[key] = value
    return best


def broken(problem, number, pieces, who):
    """Count the promises of a site that its plan does not keep."""
    count = 0
    for (site, task, layer), (crew, day) in problem.promised.items():
        if site != number:
            continue
        works = pieces[task].works
        if layer >= len(works):
            count += 1
            continue
        shift = works[layer][3]
        count += who[shift] != crew or problem.sites[site].day[shift] != day
    return count


def best_worth(problem):
    """Return what the best of all plans of all sites with all crews is worth."""
    ways = [
        sorted(site_ways(problem, n).items(), key=lambda item: -item[1])
        for n in range(len(problem.sites))
    ]
    rest = [sum(way[0][1] for way in ways[n:]) for n in range(len(ways) + 1)]
    best = None

    def further(number, busy, worth):
        nonlocal best
        if number == len(ways):
            worth -= problem.prices.move * count_moves(problem, busy)
            best = worth if best is None else max(best, worth)
            return
        for key, value in ways[number]:
            if best is not None and worth + value + rest[number + 1] <= best:
                return
            # One site a day for a crew.
            if not any(each in busy for each in key):
                further(number + 1, busy | dict.fromkeys(key, number), worth + value)

    further(0, {}, 0)
    return best


def count_moves(problem, busy):
    """Count the days on which a crew is on another site than last time; ``busy``: day, crew."""
    count = 0
    for c, crew in enumerate(problem.crews):
        on = crew.station
        for day in range(problem.days):
            if (day, c) in busy:
                count += busy[day, c] != on
                on = busy[day, c]
    return count


# --- one plan: its worth and its faults -----------------------------------------------------------


def worth_of_plan(problem, visits, taken):
    """Return what a plan is worth."""
    total = 0
    for site, task, layer, at in taken:
        total += int(problem.sites[site].worth[task][layer][at])
    for n, site in enumerate(problem.sites):
        for t, cost in enumerate(site.missed):
            if not any(each[:3] == (n, t, 0) for each in taken):
                total -= cost
    busy = {}
    for crew, site, shift in visits:
        total -= problem.crews[crew].visit[site]
        busy[problem.sites[site].day[shift], crew] = site
    total -= problem.prices.move * count_moves(problem, busy)
    for number in range(len(problem.sites)):
        pieces = laid(problem, number, taken)
        who = {shift: crew for crew, site, shift in visits if site == number}
        total -= problem.prices.change * broken(problem, number, pieces, who)
    return total


def laid(problem, number, taken):
    """Return the pieces of a site as a plan lays them; layers have to begin with the first."""
    site = problem.sites[number]
    found = []
    for t in range(len(site.problem.tasks)):
        mine = sorted(each[2:] for each in taken if each[:2] == (number, t))
        assert [layer for layer, _ in mine] == list(range(len(mine))), "a layer is left out"
        found.append(Piece(site, t, tuple(at for _, at in mine)))
    return found


def faults(problem, visits, taken):
    """Return the rules that a plan breaks, in words."""
    found = faults_of_days(problem, visits)
    for number in range(len(problem.sites)):
        sent = {shift: crew for crew, n, shift in visits if n == number}
        pieces = laid(problem, number, taken)
        told = [*faults_of_site(problem.sites[number], pieces)]
        told += faults_of_crews(problem, number, pieces, sent)
        found += [f"site {number}: {each}" for each in told]
    return found


def faults_of_days(problem, visits):
    """Return what is wrong with where the crews are."""
    found = []
    if len({(site, shift) for _, site, shift in visits}) < len(visits):
        found.append("two crews on one site in one shift")
    days = [(crew, problem.sites[site].day[shift]) for crew, site, shift in visits]
    if len(set(days)) < len(days):
        found.append("a crew on two sites on one day")
    if any(not 0 <= day < problem.days for _, day in days):
        found.append("a visit outside the board")
    return found


def faults_of_site(site, pieces):
    """Yield what is wrong with the hours of a site."""
    for piece in pieces:
        chain = piece.chain
        for n in range(len(chain)):
            if not may_follow(site, piece.task, chain[:n], chain[n]):
                yield f"task {piece.number}, layer {n}: too early or too late"
        if chain and piece.task.choices[len(chain) - 1].must[chain[-1]]:
            yield f"task {piece.number}: not covered"
        for other in pieces[: piece.number]:
            if clash(site, piece, other):
                yield f"tasks {other.number} and {piece.number}: clash"
    if too_bare(site, pieces):
        yield "more is bare than may be"


def faults_of_crews(problem, number, pieces, sent):
    """Yield the shifts in which nobody comes who can lay what is laid."""
    works = {}
    for piece in pieces:
        for work in piece.works:
            works.setdefault(work[3], []).append(work)
    for shift, these in works.items():
        if sent.get(shift) not in who_can(problem, number, shift, these):
            yield f"shift {shift}: no crew that can lay this"


# --- a crew boss without a computer ---------------------------------------------------------------


def greedy(problem):
    """Return visits and starts taken as they come: piece after piece, each as early as can be.

    A piece is laid in the first way that is worth more than the days which it needs beside those
    that are planned; a shift without a crew takes the first that can.
    """
    visits, taken = [], []
    for number, site in enumerate(problem.sites):
        tasks = site.problem.tasks
        pieces = [Piece(site, t, ()) for t in range(len(tasks))]
        for t, task in enumerate(tasks):
            now = worth_of_plan(problem, visits, taken)
            ways = [Piece(site, t, chain) for chain in chains(site, task) if chain]
            for piece in sorted(ways, key=lambda way: [work[0] for work in way.works]):
                others = [each for each in pieces if each.number != t]
                sent = crews_for(problem, number, piece, others, visits)
                starts = [(number, t, layer, at) for layer, at in enumerate(piece.chain)]
                if sent is None or worth_of_plan(problem, sent, [*taken, *starts]) <= now:
                    continue
                pieces[t], visits = piece, sent
                taken += starts
                break
    return visits, taken


def crews_for(problem, number, piece, others, visits):
    """Return the visits with those that one more piece of a site needs; None if it cannot be."""
    site = problem.sites[number]
    if any(clash(site, piece, other) for other in others) or too_bare(site, [piece, *others]):
        return None
    can = able(problem, number, [piece, *others])
    if can is None:
        return None
    sent = list(visits)
    for shift, crews in can.items():
        here = [crew for crew, n, s in sent if (n, s) == (number, shift)]
        busy = {crew for crew, n, s in sent if problem.sites[n].day[s] == site.day[shift]}
        free = [crew for crew in crews if crew in here or (not here and crew not in busy)]
        if not free:
            return None
        if not here:
            sent.append((free[0], number, shift))
    return sent
