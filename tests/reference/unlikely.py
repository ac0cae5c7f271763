"""Exact figures for many unlikely findings together, by sums of positive terms.

240 causes, 11 noisy-OR signs that each may read all of them. All chances are whole numbers of
1/4096, so that doubles hold them exactly. A table over the sets of signs that show is carried from
cause to cause: an absent cause changes nothing, a present one turns on each sign by itself. No term
is ever subtracted, and `decimal` keeps 60 digits: another method than the engine's, which sums
products of both signs.

    python3 tests/reference/unlikely.py > tests/reference/unlikely.json

Source: the definition of the noisy-OR (Pearl 1988); inputs are our own.
"""

import json
from decimal import Decimal, getcontext

getcontext().prec = 60
WHOLE = 4096
CAUSES, SIGNS = 240, 11
ASKED = SIGNS - 1
SEEN = [4, 6, 8, 10]
FOLLOWED = [0, 1, 117, 239]
BACKGROUND = 1


def prior(cause):
    return 1 + cause % 5


def link(cause, sign):
    """Strong on one sign, weak or none on all others."""
    if cause % SIGNS == sign:
        return 1024 + 64 * (cause % 32)
    return (7 * cause + 13 * sign) % 5


def joint(certain=None):
    """P(set of signs that show, and `certain` present), by set as bits."""
    part = lambda number: Decimal(number) / WHOLE
    table = [Decimal(0)] * 2**SIGNS
    table[0] = Decimal(1)

    def turn_on(table, sign, chance):
        bit = 1 << sign
        for signs in range(2**SIGNS):
            if signs & bit:
                table[signs] += table[signs ^ bit] * chance
        for signs in range(2**SIGNS):
            if not signs & bit:
                table[signs] *= 1 - chance

    for sign in range(SIGNS):
        turn_on(table, sign, part(BACKGROUND))
    for cause in range(CAUSES):
        present = [value * part(prior(cause)) for value in table]
        for sign in range(SIGNS):
            if link(cause, sign):
                turn_on(present, sign, part(link(cause, sign)))
        if cause == certain:
            table = present
        else:
            absent = 1 - part(prior(cause))
            table = [value * absent + more for value, more in zip(table, present)]
    return table


def chance(table, bits):
    return sum(value for signs, value in enumerate(table) if signs & bits == bits)


def main():
    whole = joint()
    followed = [joint(cause) for cause in FOLLOWED]
    cases = []
    for seen in SEEN:
        bits = 2**seen - 1
        evidence, also = chance(whole, bits), chance(whole, bits | 1 << ASKED)
        cases.append({
            "seen": seen,
            "ln_evidence": float(evidence.ln()),
            "causes": [float(chance(t, bits) / evidence) for t in followed],
            "asked_shows": float(also / evidence),
            "causes_after": [float(chance(t, bits | 1 << ASKED) / also) for t in followed],
        })
    print(json.dumps({
        "whole": WHOLE,
        "background": BACKGROUND,
        "priors": [prior(cause) for cause in range(CAUSES)],
        "links": [[link(cause, sign) for sign in range(SIGNS)] for cause in range(CAUSES)],
        "followed": FOLLOWED,
        "asked": ASKED,
        "cases": cases,
    }))


main()
