"""From assessments to alarms and from alarms to messages in the outbox."""
