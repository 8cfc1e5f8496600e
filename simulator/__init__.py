"""A yard with physics of its own: publishes over MQTT, keeps the truth, never imports monitor."""
