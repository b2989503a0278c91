"""Questions about sets, marks, rubrics and skill; every one is bound to an academy."""
