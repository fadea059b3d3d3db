"""Who is where, when, and the judge of it: `verify(schedule, study, plans) -> Verdict`."""
