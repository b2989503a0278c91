"""Real services for the tests: PostgreSQL, Valkey, a Celery worker, an SMTP server and a browser."""
