"""A slow, plain reference for the odds of rain: every course of wet and dry hours, one by one.

It restates the odds of the project's definitions with lists, dicts and loops, so that a person can
check it line by line. Nothing of the fast code is imported here. With fractions for probabilities
every answer is exact.

Periods are (probability, hours) that follow each other; row k is the hour [k, k + 1).
"""

import random
from itertools import pairwise, product
from math import ceil

# Chance of any rain in n hours with the same hourly probability: wholly dependent, chains with
# persistence 0.8, 0.65 and 0.5, independent. Worked out by hand from the closed formulas.
TABLE = {
    (0.05, 12): (0.05, 0.15, 0.23, 0.29, 0.46),
    (0.10, 6): (0.10, 0.20, 0.26, 0.32, 0.47),
    (0.10, 12): (0.10, 0.30, 0.42, 0.52, 0.72),
    (0.20, 12): (0.20, 0.54, 0.71, 0.82, 0.93),
}
PERSISTENCES = (0.8, 0.65, 0.5)


def independent(probs):
    """Chance of no rain if hours have nothing to do with each other."""
    chance = 1
    for p in probs:
        chance *= 1 - p
    return chance


def dependent(probs):
    """Chance of no rain if it rains in all hours or in none."""
    return 1 - max(probs)


# --- the chain ------------------------------------------------------------------------------------


def steps(probs, persistence):
    """[(P(wet | wet before), P(wet | dry before))] of each hour but the first.

    The persistence is kept where both are probabilities, every hour has the probability that it is
    given, and a wet hour does not make the next drier.
    """
    found = []
    for before, now in pairwise(probs):
        after_wet = persistence
        if before > 0 and after_wet > now / before:
            after_wet = now / before
        after_wet = max(min(after_wet, 1), now)
        after_dry = now if before == 1 else (now - before * after_wet) / (1 - before)
        found.append((after_wet, after_dry))
    return found


def courses(probs, persistence):
    """{(wet?, wet?, ...): chance} of all courses that the hours can take."""
    found = {}
    chances = steps(probs, persistence)
    for course in product((True, False), repeat=len(probs)):
        chance = probs[0] if course[0] else 1 - probs[0]
        for k, (after_wet, after_dry) in enumerate(chances):
            wet = after_wet if course[k] else after_dry
            chance *= wet if course[k + 1] else 1 - wet
        found[course] = chance
    return found


def chain(probs, persistence):
    """Chance of no rain in a chain of wet and dry hours."""
    return courses(probs, persistence)[(False,) * len(probs)]


def constant_chain(prob, persistence, hours):
    """Return the chance of no rain in hours that share one probability, in closed form."""
    wet_after_dry = prob * (1 - persistence) / (1 - prob)
    return (1 - prob) * (1 - wet_after_dry) ** (hours - 1)


def simulated_chain(probs, persistence, runs, seed):
    """Share of runs of the chain without rain."""
    dice = random.Random(seed)
    chances = steps(probs, persistence)
    dry_runs = 0
    for _ in range(runs):
        wet = dice.random() < probs[0]
        any_wet = wet
        for after_wet, after_dry in chances:
            wet = dice.random() < (after_wet if wet else after_dry)
            any_wet = any_wet or wet
        dry_runs += not any_wet
    return dry_runs / runs


# --- periods --------------------------------------------------------------------------------------


def met(periods, first, end):
    """[(probability, hours of the period, hours of it inside [first, end))] of those met."""
    found = []
    begin = 0
    for p, hours in periods:
        inside = min(end, begin + hours) - max(first, begin)
        if inside > 0:
            found.append((p, hours, inside))
        begin += hours
    return found


def bounds(periods, first, end):
    """(low, high) chance of no rain in rows [first, end)."""
    parts = met(periods, first, end)
    low = independent([p for p, _, _ in parts])
    high = min(1 - p / ceil(hours / inside) for p, hours, inside in parts)
    return low, high


def estimate(periods, first, end, persistence):
    """Chance of no rain in rows [first, end): the period's own, else the chain's.

    persistence(hours of the period before, hours of the period) gives P(wet | period before wet).
    """
    parts = met(periods, first, end)
    chance = 1 - parts[0][0]
    for (p0, hours0, _), (p1, hours1, _) in pairwise(parts):
        ((_, after_dry),) = steps([p0, p1], persistence(hours0, hours1))
        chance *= 1 - after_dry
    return chance


# --- years ----------------------------------------------------------------------------------------


def persistence_of(wet, months, month, before_h, length_h):
    """(share, pairs): how often a period is wet after a wet one; wet holds True, False or None.

    A pair belongs to the month of the first hour of its second period.
    """
    pairs = followed = 0
    for at in range(before_h, len(wet) - length_h + 1):
        before, now = wet[at - before_h : at], wet[at : at + length_h]
        if months[at] != month or None in before or None in now or not any(before):
            continue
        pairs += 1
        followed += any(now)
    return (followed / pairs if pairs else None), pairs


def dry_days(wet_of, days, hour, length_h):
    """(dry, known) of spans that begin at an hour of each of these days.

    wet_of(day, hour + k) gives True, False or None.
    """
    dry = known = 0
    for day in days:
        span = [wet_of(day, hour + k) for k in range(length_h)]
        if None in span and True not in span:
            continue
        known += 1
        dry += not any(span)
    return dry, known
