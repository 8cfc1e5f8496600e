"""All that comes in: MQTT, payloads, quality, batches, what is kept aside."""
