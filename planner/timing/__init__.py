"""One visit as offsets, exact bounds and simulated chances: `lay_out(protocol, plan_on) -> VisitPlan`."""
