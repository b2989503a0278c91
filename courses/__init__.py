"""What is practised: skills, faults, drills, heads and set briefs."""
