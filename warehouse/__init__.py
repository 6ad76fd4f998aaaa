"""The DuckDB file: connection, migrations, views, audits and one typed repository per aggregate. Imports schemas only."""
