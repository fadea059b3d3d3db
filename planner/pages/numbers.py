"""What the numbers mean, and where they come from."""

from __future__ import annotations

import streamlit as st

from planner.pages.arrival import title

MEANINGS = """
**8 of 10 visits take no longer.** Put in order by their length, eight of ten simulated visits are as long
as that or shorter.

**Planned efforts.** A measure is planned with the smallest number of efforts by which it has ended in at
least 80 % of simulated visits. The page Study, *Days and rules*, sets another share.

**On time in 93 of 100 simulated visits.** Each visit is simulated many times alone in the laboratory: every
reading is drawn from a normal distribution around its typical value, with the usual difference between
efforts; the rule for when to finish is applied after every effort. The plus-minus beside a chance is the
error of simulating, not of the protocol.

**Close enough: finished.** The protocol says how many values must lie how close: so many of the largest
acceptable values so far, or any so many of them. A percentage is of the largest of those values. Values are
compared as they were written: 4.25 L and 4.10 L are 0.15 L apart and no more.

**Time points** count to the start of the first effort: from the recorded end of the part that the protocol
names, most often exercise. Those inside exercise count from its start. What is due before a part counts
back from its start, to the end of the last effort. Both ends of a window belong to it.

**Cannot be better than.** A limit that was proven: no plan under these rules does better. Where the plan
reaches it, no better plan exists. Where it does not, nobody knows yet whether there is one.

**95 % range.** How far chance alone may have moved a share: were the study repeated many times, about 95 of
100 such ranges would hold the true share. For a share it is the Wilson interval (Wilson 1927; cases of
Newcombe 1998 are in the tests). Time points of one participant are not independent of each other, so a
range that takes each participant as a whole stands beside it: participants are drawn anew 10 000 times
(cluster bootstrap; drawing anew as in Efron and Tibshirani 1993). Where all or none are on time it tells
nothing, and is left out.

**Half of them between 60 and 79 s.** When all are put in order, a quarter lie below the first number and a
quarter above the second (interquartile range); the median is the one in the middle.

**The share rises, falls, or shows no sign of it.** A trend test over the dates (Cochran 1954, Armitage
1955); *p* says how often chance alone would bring a change as large or larger. *Later each week* is the
median of the slopes between any two time points of one kind (Theil 1950, Sen 1968).

**Each condition follows each other equally often.** Orders follow Williams (1949); who gets which order
follows from the *number that repeats the same draw* (page Study), before the schedule is made.

**Updated from recorded efforts.** What the record teaches pulls the protocol's assumption towards it, the
more the more efforts there are; the number of efforts stands beside each value.

Rules for how many efforts and how close they must lie are those that each protocol file writes, with its
source beside them. Nothing here claims that a standard is met; check the original.
"""


def page() -> None:
    """The page."""
    title("What do the numbers mean?")
    st.markdown(MEANINGS)


page()
