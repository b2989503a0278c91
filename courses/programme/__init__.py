"""What a programme asks for, as plain data: units, hours, rules, and every sentence about them."""
