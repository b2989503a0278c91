"""Pages of the assessments floor: each only translates between HTTP and services or selectors."""
