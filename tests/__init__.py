"""The mirror of the source, whole journeys, the house rules as tests, and the real services they run on."""
