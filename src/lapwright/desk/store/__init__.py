"""The ledger in a database: models, migrations, guards against change, and the log over them."""
