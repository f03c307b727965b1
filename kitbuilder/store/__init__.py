"""The workshop's own data: one SQLite file by default, PostgreSQL where machines share it."""
