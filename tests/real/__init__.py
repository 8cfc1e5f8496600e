"""The real parts that tests run against: broker, database, mail server, browser."""
