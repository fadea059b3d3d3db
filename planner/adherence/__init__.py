"""How closely the plan was kept: `compare(study, schedule, happened) -> Adherence`."""
