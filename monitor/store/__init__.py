"""The only SQL: tables, transactions, repositories, migrations."""
