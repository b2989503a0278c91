"""What is judged: rubrics, practice sets, inspections, marks and skill."""
