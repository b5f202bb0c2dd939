"""The database: tables, migrations and the queries the books need."""
