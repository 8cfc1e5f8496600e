-- Who may do what in laidup's database: three roles, each with the least that its work needs.
--
--   laidup_owner    makes and changes the tables (`laidup migrate`), nothing else in daily life
--   laidup_daemon   the watch, and every command that enters something
--   laidup_reader   looks at the yard's figures; can write nothing, answer nothing, hold up nothing
--
-- Run it as the server's administrator in laidup's own database, twice: before the first
-- `laidup migrate`, and again after every `laidup migrate`:
--
--   createdb laidup
--   psql -d laidup -v ON_ERROR_STOP=1 -f deploy/postgresql/rights.sql
--   psql -d laidup -c '\password laidup_owner'      and the same for the other two
--
-- It may be run at any time, also while laidup runs. Then `[store] url` names laidup_daemon, and
-- `laidup migrate` is run by hand, after each update, with a yard's file whose url names
-- laidup_owner. The daemon itself may not change tables: after an update it says what to do.

BEGIN;

DO $$
DECLARE one text;
BEGIN
  FOREACH one IN ARRAY ARRAY['laidup_owner', 'laidup_daemon', 'laidup_reader'] LOOP
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = one) THEN
      EXECUTE format('CREATE ROLE %I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE', one);
    END IF;
    EXECUTE format('REVOKE ALL ON DATABASE %I FROM %I', current_database(), one);
    EXECUTE format('GRANT CONNECT ON DATABASE %I TO %I', current_database(), one);
  END LOOP;
  EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
END $$;

ALTER SCHEMA public OWNER TO laidup_owner;
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO laidup_daemon, laidup_reader;

-- Tables that a later `laidup migrate` makes: the daemon's at once, the reader's at the next run.
ALTER DEFAULT PRIVILEGES FOR ROLE laidup_owner IN SCHEMA public
  GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO laidup_daemon;

REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC, laidup_daemon, laidup_reader;
GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO laidup_daemon;
GRANT SELECT ON ALL TABLES IN SCHEMA public TO laidup_reader;

DO $$
DECLARE one text;
BEGIN
  IF to_regclass('public.alembic_version') IS NULL THEN
    RETURN;  -- before the first `laidup migrate`
  END IF;
  REVOKE INSERT, UPDATE, DELETE ON alembic_version FROM laidup_daemon;
  -- The record only grows: not even the daemon, or whoever has its password, rewrites an entry.
  FOREACH one IN ARRAY ARRAY['layup_entries', 'record_links'] LOOP
    EXECUTE format('REVOKE UPDATE, DELETE ON %I FROM laidup_daemon', one);
  END LOOP;
  -- Whoever has a letter has the link by which its reader answers, and that is to act. What was
  -- set aside is what strangers sent. Who may open the page, and what they did, is theirs alone.
  FOREACH one IN ARRAY
    ARRAY['outbox', 'outbox_attachments', 'answer_links', 'conversations', 'aside',
          'page_passwords', 'page_invitations', 'page_sessions', 'page_grants', 'page_deeds']
  LOOP
    EXECUTE format('REVOKE ALL ON %I FROM laidup_reader', one);
  END LOOP;
  GRANT SELECT (yard_id, key, person, channel, kind, subject, thread, created_ms, outcome, tries,
                due_ms, record_head)
    ON outbox TO laidup_reader;
END $$;

-- One writer at a time: laidup's write lock is an advisory lock, which any role may take and so
-- hold up the watch. In this database only the two that write may take one.
DO $$
DECLARE one regprocedure;
BEGIN
  FOR one IN
    SELECT oid::regprocedure FROM pg_proc
    WHERE pronamespace = 'pg_catalog'::regnamespace AND proname ~ '^pg_(try_)?advisory_(xact_)?lock'
  LOOP
    EXECUTE format('REVOKE EXECUTE ON FUNCTION %s FROM PUBLIC, laidup_reader', one);
    EXECUTE format('GRANT EXECUTE ON FUNCTION %s TO laidup_owner, laidup_daemon', one);
  END LOOP;
END $$;

-- A reader that forgets an open window: neither its question nor its transaction goes on for ever.
ALTER ROLE laidup_reader SET default_transaction_read_only = on;
ALTER ROLE laidup_reader SET statement_timeout = '60s';
ALTER ROLE laidup_reader SET idle_in_transaction_session_timeout = '60s';

COMMIT;
